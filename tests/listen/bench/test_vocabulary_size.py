"""The made-up bigger vocabulary that costs are measured with."""

from pathlib import Path

import pytest

from listen.bench import vocabulary_size
from vocab.pack.load import load_pack, shipped_pack
from vocab.requests.lexicon import Lexicon


@pytest.mark.slow
@pytest.mark.parametrize("names", [250, 1_500])
def test_a_written_vocabulary_is_whole_and_as_big_as_asked(tmp_path: Path, names: int) -> None:
    shipped = shipped_pack()
    pack = load_pack(vocabulary_size.written(shipped, names, tmp_path / "pack"))
    count = sum(len(item.names) for item in pack.items)
    assert count == max(names, sum(len(item.names) for item in shipped.items))
    assert {item.id: item for item in shipped.items}.items() <= {item.id: item for item in pack.items}.items()
    made = [item for item in pack.items if item.id.startswith("made_up")]
    assert len({name.text for item in made for name in item.names}) == count - sum(
        len(item.names) for item in shipped.items
    )
    lexicon = Lexicon(pack)
    for item in made[:20]:
        assert item.id in {c.item for c in lexicon.find(tuple(item.name.text.split()))}
