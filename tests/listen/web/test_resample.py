"""The page's resampler against soxr (an outside library) on the same sound."""

import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soxr

STATIC = Path(__file__).parents[3] / "listen" / "web" / "static"
NODE = shutil.which("node")

pytestmark = pytest.mark.skipif(NODE is None, reason="node is not installed (apt install nodejs)")

SCRIPT = """
import { readFileSync, writeFileSync } from "node:fs";
const { Resampler } = await import(process.argv[1]);
const { rate, block } = JSON.parse(process.argv[2]);
const bytes = readFileSync(process.argv[3]);
const input = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length / 4);
const resampler = new Resampler(rate);
const out = [];
for (let i = 0; i < input.length; i += block) out.push(...resampler.push(input.slice(i, i + block)));
writeFileSync(process.argv[4], Buffer.from(Float32Array.from(out).buffer));
"""


def resampled(samples: np.ndarray, rate_hz: int, folder: Path, block: int = 128) -> np.ndarray:
    source, out = folder / "in.f32", folder / "out.f32"
    module = folder / "resample.mjs"
    module.write_text((STATIC / "resample.js").read_text())
    source.write_bytes(samples.astype("<f4").tobytes())
    given = json.dumps({"rate": rate_hz, "block": block})
    assert NODE is not None
    command = [NODE, "--input-type=module", "-e", SCRIPT, module.as_uri(), given, str(source), str(out)]
    subprocess.run(command, check=True, timeout=120)
    return np.frombuffer(out.read_bytes(), "<f4")


@pytest.mark.parametrize("rate_hz", [48_000, 44_100, 96_000, 16_000, 8_000])
def test_speech_comes_out_as_soxr_has_it(tmp_path: Path, rate_hz: int) -> None:
    rng = np.random.default_rng(1)
    t = np.arange(rate_hz) / rate_hz
    waves = [np.sin(2 * np.pi * f * t + rng.uniform(0, 6)) for f in (150, 440, 1300, 3100)]
    tones = np.sum(waves, axis=0) / 8
    ours = resampled(tones, rate_hz, tmp_path)
    theirs = soxr.resample(tones, rate_hz, 16_000)
    n = min(len(ours), len(theirs)) - 500
    error = ours[500:n] - theirs[500:n]
    assert 20 * np.log10(np.std(error) / np.std(theirs[500:n])) < -50


def test_what_cannot_be_told_at_16_khz_is_taken_out(tmp_path: Path) -> None:
    t = np.arange(48_000) / 48_000
    ours = resampled(np.sin(2 * np.pi * 11_000 * t), 48_000, tmp_path)
    assert np.std(ours[500:-500]) < 0.001


def test_the_size_of_the_blocks_does_not_matter(tmp_path: Path) -> None:
    sound = np.random.default_rng(2).normal(0, 0.1, 20_000)
    one, other = (resampled(sound, 44_100, tmp_path, block) for block in (128, 1111))
    n = min(len(one), len(other))
    assert np.allclose(one[:n], other[:n], atol=1e-6)
