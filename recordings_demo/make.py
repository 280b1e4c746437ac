"""Speak `script.yaml` again: one FLAC file a line and `manifest.jsonl` beside it.

Run from anywhere: `python recordings_demo/make.py`. It needs the speech programs the script names (it says
which are missing and how to get them) and gives the same files for the same program versions. Speech
stands at an active level of -26 dB with silence around it, 16 kHz mono.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import yaml

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from listen.engine import SAMPLE_RATE_HZ, Samples  # noqa: E402
from listen.speech import noise, voices  # noqa: E402
from vocab.errors import TraycallError  # noqa: E402

SPEECH_DB = -26.0
"""Nominal active speech level re full scale, as telephony recordings are set (ITU-T P.56 practice)."""

BEFORE_S, AFTER_S = 0.4, 0.7


def spoken(line: dict[str, Any], roles: dict[str, Any]) -> Samples:
    """The clean line at its level with silence around it, shape = (n,)."""
    role = roles[line["role"]]
    changes = {k: float(role[k]) for k in ("rate", "pitch", "vocal_tract") if k in role}
    samples = voices.synthesize(voices.voice(role["voice"]), line["text"], **changes)
    gain = 10.0 ** ((SPEECH_DB - noise.speech_level(samples).active_db) / 20.0)
    return noise.pad((samples * gain).astype(np.float32), BEFORE_S, AFTER_S)


def chair_noise(kind: str, n: int, file: str, others: list[Samples]) -> Samples:
    """Noise of one kind that belongs to one file; babble is made of other people's chatter."""
    rng = noise.generator_for(file, kind)
    return noise.babble(n, rng, others) if kind == "babble" else noise.NOISES[kind](n, rng)


def overheard(line: dict[str, Any], speaker: str) -> bool:
    """Whether a line may be part of the murmur behind `speaker`: chatter of somebody else."""
    return line["kind"] == "chatter" and line["role"] != speaker


def entry(file: str, line: dict[str, Any], roles: dict[str, Any]) -> dict[str, Any]:
    """What the manifest says about a file; `item` is null where nothing is to be handed over."""
    said = {"file": file, "text": line["text"], "kind": line["kind"], "item": line.get("item")}
    said |= {k: line[k] for k in ("action", "end", "quantity") if k in line}
    return said | {
        "role": line["role"],
        "voice": roles[line["role"]]["voice"],
        "noise": line.get("noise"),
        "snr_db": line.get("snr_db"),
    }


def make(folder: Path) -> int:
    """Write every recording and the manifest; returns how many recordings there are."""
    script = yaml.safe_load((HERE / "script.yaml").read_text(encoding="utf-8"))
    roles, lines = script["roles"], script["lines"]
    clean = [spoken(line, roles) for line in lines]
    (folder / "audio").mkdir(parents=True, exist_ok=True)
    manifest: list[str] = []
    for number, (line, samples) in enumerate(zip(lines, clean, strict=True), start=1):
        file = f"audio/{number:03d}.flac"
        if "noise" in line:
            others = [c for other, c in zip(lines, clean, strict=True) if overheard(other, line["role"])]
            under = chair_noise(line["noise"], len(samples), file, others)
            samples = noise.mix(samples, under, float(line["snr_db"])).samples
        soundfile.write(folder / file, samples, SAMPLE_RATE_HZ, subtype="PCM_16", format="FLAC")
        manifest.append(json.dumps(entry(file, line, roles), ensure_ascii=False))
    (folder / "manifest.jsonl").write_text("\n".join(manifest) + "\n", encoding="utf-8")
    return len(lines)


if __name__ == "__main__":
    try:
        print(f"{make(HERE)} recordings in {HERE.name}/audio")
    except TraycallError as error:
        print(error, file=sys.stderr)
        sys.exit(2)
