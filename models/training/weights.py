"""The packaged networks' weights, taken out of their ONNX Runtime files and put into plain floating point.

    python -m models.training.weights OUT/encoder.npz [OUT/decoder.npz]

The package `moonshine-voice` holds encoder and decoder with 8-bit weights. They are multiplied out here and named after
their place in `network.Ear` and `decoder.Decoder`. The rows of queries and keys are put in another order (the same in
both, so that their products stay): the rotated pairs, which are neighbours in the original, come as two halves.
Needs the package `flatbuffers`, and the reader of the format that onnxruntime brings along.
"""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.network import model_folder

Array = npt.NDArray[Any]

HEADS, HEAD_WIDTH, ROTATED = 8, 36, 32
_TYPES = {1: np.float32, 2: np.uint8, 3: np.int8, 6: np.int32, 7: np.int64}
_QUANTISED = ("MatMulIntegerToFloat", "DynamicQuantizeMatMul")
_GROUP_NORM = {"onnx::Mul_2080": "norm.weight", "onnx::Add_2081": "norm.bias"}
"""What the exporter called the scale and shift behind the first convolution."""


def _graph(path: Path) -> Any:
    origin = find_spec("onnxruntime")
    assert origin is not None
    assert origin.origin is not None
    sys.path.insert(0, str(Path(origin.origin).parent / "tools" / "ort_format_model"))
    import ort_flatbuffers_py.fbs  # noqa: F401
    from ort_flatbuffers_py.fbs import InferenceSession

    content = bytearray(path.read_bytes())
    return InferenceSession.InferenceSession.GetRootAsInferenceSession(content, 0).Model().Graph()


def _initialisers(graph: Any) -> dict[str, Array]:
    found = {}
    for number in range(graph.InitializersLength()):
        tensor = graph.Initializers(number)
        shape = [tensor.Dims(axis) for axis in range(tensor.DimsLength())]
        raw = tensor.RawDataAsNumpy().tobytes()
        found[tensor.Name().decode()] = np.frombuffer(raw, _TYPES[tensor.DataType()]).reshape(shape)
    return found


def _products(graph: Any, known: dict[str, Array]) -> Iterator[tuple[str, Array]]:
    """Each quantised matrix product: where it stands, and its weights multiplied out, shape (out, in)."""
    for number in range(graph.NodesLength()):
        node = graph.Nodes(number)
        if node.OpType().decode() in _QUANTISED:
            inputs = [node.Inputs(place).decode() for place in range(node.InputsLength())]
            weights = next(name for name in inputs if name.endswith("_quantized") and name in known)
            base = weights.removesuffix("_quantized")
            zero = known[f"{base}_zero_point"].astype(np.float32).reshape(-1)[0]
            scale = known[f"{base}_scale"].reshape(-1)[0]
            place = node.Outputs(0).decode().strip("/").split("/")[:-1]
            yield ".".join(place), ((known[weights].astype(np.float32) - zero) * scale).T


def _halves(rows: Array) -> Array:
    """Rows of queries or keys, shape (288, 288), with the rotated pairs of each head as two halves."""
    order = [*range(0, ROTATED, 2), *range(1, ROTATED, 2), *range(ROTATED, HEAD_WIDTH)]
    return rows.reshape(HEADS, HEAD_WIDTH, -1)[:, order].reshape(rows.shape)


def read(path: Path) -> dict[str, Array]:
    """The encoder's weights by name, float32."""
    graph = _graph(path)
    known = _initialisers(graph)
    found: dict[str, Array] = {}
    for name, value in known.items():
        if name.endswith("_add_tensor") and name.startswith("conv"):
            found[name.removesuffix("_add_tensor")] = value
        elif name.startswith(("layers.", "conv", "layer_norm")) and name.endswith((".bias", ".weight")):
            found[name] = value
        elif name in _GROUP_NORM:
            found[_GROUP_NORM[name]] = value
    for place, weights in _products(graph, known):
        turned = place.endswith(("q_proj", "k_proj"))
        found[f"{place}.weight"] = _halves(weights) if turned else weights
    for name in ("norm.weight", "norm.bias"):
        found[name] = found[name].reshape(-1)
    biases = [name for name in found if name.startswith("conv") and name.endswith(".bias")]
    found |= {name: found[name].reshape(-1) for name in biases}
    return {name: np.ascontiguousarray(value, dtype=np.float32) for name, value in sorted(found.items())}


def read_decoder(path: Path) -> dict[str, Array]:
    """The decoder's weights by name, float32, from the branch of its graph that begins a text."""
    graph = _graph(path)
    known = _initialisers(graph)
    found: dict[str, Array] = {}
    for place, weights in _products(_branch(graph), known):
        name = place.removeprefix("model.decoder.") or "proj_out"
        turned = name.endswith(("self_attn.q_proj", "self_attn.k_proj"))
        found[f"{name}.weight"] = _halves(weights) if turned else weights
    for name, value in known.items():
        if name.endswith((".weight_merged_0", ".bias_merged_0")):
            found[name.removesuffix("_merged_0").removeprefix("model.decoder.")] = value
    base = "model.decoder.embed_tokens.weight_merged_0"
    zero = known[f"{base}_zero_point"].astype(np.float32)
    found["embed_tokens.weight"] = (known[f"{base}_quantized"].astype(np.float32) - zero) * known[
        f"{base}_scale"
    ]
    return {name: np.ascontiguousarray(value, dtype=np.float32) for name, value in sorted(found.items())}


def _branch(graph: Any) -> Any:
    """The graph within the graph that runs where nothing is remembered from a step before."""
    nodes = (graph.Nodes(number) for number in range(graph.NodesLength()))
    choice = next(node for node in nodes if node.OpType() == b"If")
    parts = (choice.Attributes(number) for number in range(choice.AttributesLength()))
    return next(part.G() for part in parts if part.Name() == b"else_branch")


def write(out: Path) -> dict[str, Any]:
    """Write the packaged encoder's weights; returns them."""
    weights: dict[str, Any] = read(model_folder() / "encoder_model.ort")
    out.parent.mkdir(parents=True, exist_ok=True)
    np.savez(out, **weights)
    return weights


def write_decoder(out: Path) -> None:
    """Write the packaged decoder's weights in half precision, and the vocabulary beside them."""
    weights = read_decoder(model_folder() / "decoder_model_merged.ort")
    out.parent.mkdir(parents=True, exist_ok=True)
    halves: dict[str, Any] = {name: value.astype(np.float16) for name, value in weights.items()}
    np.savez(out, **halves)
    shutil.copy(model_folder() / "tokenizer.bin", out.with_name("tokenizer.bin"))


def main() -> int:
    """Write the weights."""
    parser = argparse.ArgumentParser(description="Take the networks' weights out of the package.")
    parser.add_argument("out", type=Path)
    parser.add_argument("decoder", type=Path, nargs="?")
    given = parser.parse_args()
    weights = write(given.out)
    if given.decoder:
        write_decoder(given.decoder)
    print(f"{len(weights)} arrays, {sum(value.size for value in weights.values())} weights")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
