"""What is read inside two packages though neither promises it; a version that differs fails here."""

from __future__ import annotations

import hashlib
import importlib
from importlib.metadata import version

import numpy as np
import onnx
import pytest

from listen.neural.tokenizer import Tokenizer
from listen.neural.weights import _DTYPES, ADAPTER, fingerprint, model_folder, read_adapter, read_weights

MODEL = f"moonshine-voice {version('moonshine-voice')}"
READER = f"onnxruntime {version('onnxruntime')}"
ASSETS = {
    "tiny-en/encoder_model.ort": "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221",
    "tiny-en/decoder_model_merged.ort": "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0",
    "tiny-en/tokenizer.bin": "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d",
    "beckett.wav": "e5a26b3d29e5b0bc8dbd72c11d16a3808a4ec0ac45b21f12a27d2a2fe5c5ae61",
    "two_cities.wav": "f3348494d77cb74a02862f5e685ed09faf3e75832c5cc5c80703282c2cd8b52e",
}
"""SHA-256 of the files of moonshine-voice 0.0.73 that are used: the model, and two recordings of speech."""

FBS = "onnxruntime.tools.ort_format_model.ort_flatbuffers_py.fbs"
USED = {
    "InferenceSession": ("GetRootAs", "Model", "OrtVersion"),
    "Model": ("Graph",),
    "Graph": ("Initializers", "InitializersLength", "Nodes", "NodesLength"),
    "Node": ("Attributes", "AttributesLength", "Inputs", "InputsLength", "Name", "OpType"),
    "Attribute": ("G",),
    "Tensor": ("DataType", "Dims", "DimsLength", "Name", "RawDataAsNumpy", "RawDataLength"),
}
"""What `weights` calls of onnxruntime's undocumented reader of its own format."""


@pytest.mark.parametrize("name", ASSETS)
def test_the_packaged_model_is_the_one_that_was_measured(name: str) -> None:
    file = model_folder().parent / name
    assert file.is_file(), f"{MODEL} has no {name}: pin the version that has it"
    assert hashlib.sha256(file.read_bytes()).hexdigest() == ASSETS[name], (
        f"{MODEL} has another {name}: calibration and figures were made with the old one, and the adapter "
        "does not fit another model; keep the pinned version, or teach and measure again"
    )


def test_the_shipped_adapter_was_made_for_the_packaged_model() -> None:
    assert read_adapter(ADAPTER).base == fingerprint(model_folder()), f"{MODEL}: the adapter does not fit it"


@pytest.mark.parametrize("part", USED)
def test_the_reader_still_has_what_is_called_of_it(part: str) -> None:
    try:
        found = getattr(importlib.import_module(f"{FBS}.{part}"), part)
    except (ImportError, AttributeError) as error:
        pytest.fail(f"{READER} no longer has {FBS}.{part} ({error}): see listen/neural/weights.py")
    absent = [name for name in USED[part] if not callable(getattr(found, name, None))]
    assert not absent, f"{READER}: {part} no longer has {', '.join(absent)}: see listen/neural/weights.py"


def test_the_numbers_of_the_types_are_the_published_ones() -> None:
    kinds = importlib.import_module(f"{FBS}.TensorDataType").TensorDataType
    for name, dtype in (("FLOAT", np.float32), ("UINT8", np.uint8), ("INT8", np.int8)):
        number = getattr(onnx.TensorProto, name)
        assert _DTYPES[number] is dtype
        assert getattr(kinds, name) == number, f"{READER} numbers {name} otherwise"


@pytest.mark.parametrize("name", ["encoder_model.ort", "decoder_model_merged.ort"])
def test_the_files_have_the_version_of_the_format_that_is_read(name: str) -> None:
    session = importlib.import_module(f"{FBS}.InferenceSession").InferenceSession
    content = (model_folder() / name).read_bytes()
    assert session.InferenceSessionBufferHasIdentifier(content, 0), f"{MODEL}: {name} is of another format"
    assert session.GetRootAs(content, 0).OrtVersion() == b"6", f"{MODEL}: {name} is of another version"


def published_shapes() -> dict[str, tuple[int, ...]]:
    """Every weight of the tiny model as its makers describe it: width 288, 6 + 6 layers, 32,768 tokens."""
    width, inner, tokens = 288, 1152, 32_768
    shapes: dict[str, tuple[int, ...]] = {
        "encoder.conv1": (width, 1, 127),
        "encoder.conv2": (2 * width, width, 7),
        "encoder.conv2.bias": (2 * width,),
        "encoder.conv3": (width, 2 * width, 3),
        "encoder.conv3.bias": (width,),
        "encoder.groupnorm.weight": (width,),
        "encoder.groupnorm.bias": (width,),
        "encoder.layer_norm": (width,),
        "decoder.norm": (width,),
        "decoder.embed_tokens": (tokens, width),
        "decoder.proj_out": (width, tokens),
    }
    for side, attends, norms, widened in (
        ("encoder", ("self_attn",), ("input", "post_attention"), inner),
        ("decoder", ("self_attn", "encoder_attn"), ("input", "post_attention", "final"), 2 * inner),
    ):
        for layer in (f"{side}.layers.{number}" for number in range(6)):
            shapes |= {f"{layer}.{a}.{p}_proj": (width, width) for a in attends for p in "qkvo"}
            shapes |= {f"{layer}.{norm}_layernorm": (width,) for norm in norms}
            shapes |= {f"{layer}.mlp.fc1": (width, widened), f"{layer}.mlp.fc1.bias": (widened,)}
            shapes |= {f"{layer}.mlp.fc2": (inner, width), f"{layer}.mlp.fc2.bias": (width,)}
    return shapes


def test_every_weight_is_found_under_its_name_and_in_its_shape() -> None:
    found, wanted = read_weights(model_folder()), published_shapes()
    why = f"{MODEL} read with {READER}"
    assert found.keys() == wanted.keys(), f"{why}: {sorted(found.keys() ^ wanted.keys())}"
    others = {name: array.shape for name, array in found.items() if array.shape != wanted[name]}
    assert not others, f"{why}: other shapes {others}"
    for name, array in found.items():
        assert array.dtype == np.float32 and np.isfinite(array).all() and array.any(), f"{why}: {name}"
    assert len(Tokenizer(model_folder() / "tokenizer.bin")) == len(found["decoder.embed_tokens"])
