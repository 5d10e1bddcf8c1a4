"""Writes the trained network as ONNX, weights in 8 bits: one graph for a whole utterance and for a stream of pieces.

    python -m models.training.export OUT/ear.pt models/en/letters.onnx

Each row of each large weight has its own scale (symmetric, 8 bits); sums and activations stay floating point, so
what is computed does not depend on anything but the sound and what is handed in from the pieces before it:

| input | shape | at the start |
|---|---|---|
| samples | (1, n) | 895 samples give the first frame, each 384 more the next |
| levels | (1, 1, 758) | zeros; then the last of the levels that came out, up to 6 for each frame |
| keys, values | (layers, 8, frames before, 36) | no frames |
| before | (1, 8, 288) | zeros; then the last eight states |
| position | () | 0; then the frames so far |

Outputs: letters (frames, 29), log probabilities (base e), the blank last; states (1, frames, 288); levels, keys and
values of these samples. smoke.py compares the graph with torch, whole and in pieces.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper

from . import network as shape

Array = npt.NDArray[Any]
OPSET = 20
SMALLEST = 4096
"""Weights of fewer numbers stay in floating point."""


class Writer:
    """Collects the nodes and constants of a graph."""

    def __init__(self, weights: dict[str, Array], quantised: bool = True) -> None:
        self.nodes: list[Any] = []
        self.constants: dict[str, Any] = {}
        self._weights, self._quantised, self._count = weights, quantised, 0

    def op(self, operator: str, *inputs: str, outputs: int = 1, name: str = "", **attributes: Any) -> str:
        """Add a node; returns the name of its first output (the others end in 1, 2, ...)."""
        self._count += 1
        base = name or f"{operator.lower()}{self._count}"
        names = [base, *(f"{base}.{number}" for number in range(1, outputs))]
        self.nodes.append(helper.make_node(operator, list(inputs), names, **attributes))
        return base

    def number(self, value: Any, kind: Any = np.float32) -> str:
        """A small constant."""
        array = np.asarray(value, kind)
        name = f"constant.{array.dtype}.{array.tolist()}"
        self.constants[name] = numpy_helper.from_array(array, name)
        return name

    def weight(self, name: str) -> str:
        """A trained weight: large ones as 8-bit rows with a scale each, made floats again where they are used."""
        value = self._weights[name].astype(np.float32)
        if not self._quantised or value.size < SMALLEST or value.ndim < 2:
            self.constants[name] = numpy_helper.from_array(value, name)
            return name
        rows = np.abs(value.reshape(len(value), -1)).max(1)
        scale = np.maximum(rows / 127, 1e-12).astype(np.float32)
        whole = np.round(value / scale.reshape(-1, *[1] * (value.ndim - 1))).clip(-127, 127).astype(np.int8)
        for part, array in (("8bit", whole), ("scale", scale), ("zero", np.zeros(len(value), np.int8))):
            self.constants[f"{name}.{part}"] = numpy_helper.from_array(array, f"{name}.{part}")
        return self.op("DequantizeLinear", *(f"{name}.{part}" for part in ("8bit", "scale", "zero")), axis=0)

    def linear(self, value: str, name: str, bias: bool = True) -> str:
        """value @ weight.T, and the bias."""
        turned = self.op("Transpose", self.weight(f"{name}.weight"), perm=[1, 0])
        product = self.op("MatMul", value, turned)
        return self.op("Add", product, self.weight(f"{name}.bias")) if bias else product

    def normed(self, value: str, name: str, bias: bool = False) -> str:
        """Layer normalisation over the last axis."""
        extra = [self.weight(f"{name}.bias")] if bias else []
        return self.op(
            "LayerNormalization", value, self.weight(f"{name}.weight"), *extra, axis=-1, epsilon=1e-5
        )

    def conv(self, value: str, name: str, stride: int = 1, bias: bool = True) -> str:
        """A convolution without padding."""
        extra = [self.weight(f"{name}.bias")] if bias else []
        return self.op("Conv", value, self.weight(f"{name}.weight"), *extra, strides=[stride])


def _levelled(to: Writer) -> str:
    sound = to.op("Unsqueeze", "samples", to.number([1], np.int64))
    first = to.op("Tanh", to.conv(sound, "conv1", 64, bias=False))
    squares = to.op("Mul", first, first)
    power = to.op("ReduceMean", squares, to.number([1], np.int64), keepdims=1, name="new_levels")
    history = to.op("Concat", "levels", power, axis=2)
    smooth = to.op("AveragePool", history, kernel_shape=[shape.SMOOTHED])
    peak = to.op("MaxPool", smooth, kernel_shape=[shape.HELD])
    spread = to.op("Add", to.op("Mul", peak, to.number(shape.SPREAD_OF_PEAK)), to.number(shape.LEVEL_FLOOR))
    scaled = to.op("Div", first, to.op("Sqrt", spread))
    column = to.number([1], np.int64)
    scaled = to.op("Mul", scaled, to.op("Unsqueeze", to.weight("norm.weight"), column))
    return to.op("Add", scaled, to.op("Unsqueeze", to.weight("norm.bias"), column))


def _turn(to: Writer, states: str) -> tuple[str, str]:
    """Cosine and sine of each frame's position, (frames, 16)."""
    frames = to.op("Gather", to.op("Shape", states), to.number(1, np.int64))
    end = to.op("Add", "position", frames)
    place = to.op("Range", "position", end, to.number(1, np.int64))
    place = to.op("Unsqueeze", to.op("Cast", place, to=TensorProto.FLOAT), to.number([1], np.int64))
    speed = 10_000 ** (-np.arange(0, shape.ROTATED, 2) / shape.ROTATED)
    angle = to.op("Mul", place, to.number(speed[None]))
    return to.op("Cos", angle), to.op("Sin", angle)


def _rotated(to: Writer, rows: str, turn: tuple[str, str]) -> str:
    half = shape.ROTATED // 2
    sizes = to.number([half, half, shape.HEAD_WIDTH - shape.ROTATED], np.int64)
    first = to.op("Split", rows, sizes, outputs=3, axis=-1)
    second, rest = f"{first}.1", f"{first}.2"
    cosine, sine = turn
    new_first = to.op("Sub", to.op("Mul", first, cosine), to.op("Mul", second, sine))
    new_second = to.op("Add", to.op("Mul", second, cosine), to.op("Mul", first, sine))
    return to.op("Concat", new_first, new_second, rest, axis=-1)


def _layer(to: Writer, states: str, number: int, turn: tuple[str, str]) -> tuple[str, str, str]:
    """States after a layer, and its keys and values of these frames, (1, 8, frames, 36)."""
    name = f"layers.{number}"
    normed = to.normed(states, f"{name}.input_layernorm")
    split = {}
    for part in "qkv":
        rows = to.linear(normed, f"{name}.self_attn.{part}_proj", bias=False)
        rows = to.op("Reshape", rows, to.number([1, -1, shape.HEADS, shape.HEAD_WIDTH], np.int64))
        split[part] = to.op("Transpose", rows, perm=[0, 2, 1, 3])
    queries, keys = _rotated(to, split["q"], turn), _rotated(to, split["k"], turn)
    place = to.number([number], np.int64)
    all_keys = to.op("Concat", to.op("Gather", "keys", place, axis=0), keys, axis=2)
    all_values = to.op("Concat", to.op("Gather", "values", place, axis=0), split["v"], axis=2)
    queries = to.op("Mul", queries, to.number(shape.HEAD_WIDTH**-0.5))
    fit = to.op("MatMul", queries, to.op("Transpose", all_keys, perm=[0, 1, 3, 2]))
    found = to.op("MatMul", to.op("Softmax", fit, axis=-1), all_values)
    found = to.op("Transpose", found, perm=[0, 2, 1, 3])
    found = to.op("Reshape", found, to.number([1, -1, shape.WIDTH], np.int64))
    states = to.op("Add", states, to.linear(found, f"{name}.self_attn.o_proj", bias=False))
    normed = to.normed(states, f"{name}.post_attention_layernorm")
    inner = to.op("Gelu", to.linear(normed, f"{name}.mlp.fc1"))
    return to.op("Add", states, to.linear(inner, f"{name}.mlp.fc2")), keys, split["v"]


def _head(to: Writer, states: str) -> None:
    rows = to.op("Transpose", to.op("Concat", "before", states, axis=1), perm=[0, 2, 1])
    first = to.op("Transpose", to.op("Gelu", to.conv(rows, "head.first")), perm=[0, 2, 1])
    first = to.normed(first, "head.first_norm", bias=True)
    second = to.conv(to.op("Transpose", first, perm=[0, 2, 1]), "head.second")
    second = to.normed(
        to.op("Transpose", to.op("Gelu", second), perm=[0, 2, 1]), "head.second_norm", bias=True
    )
    ends = [to.number([each], np.int64) for each in (shape.HEAD_SPAN - 1, 2**31 - 1, 1)]
    scores = to.linear(to.op("Add", to.op("Slice", first, *ends), second), "head.letters")
    logs = to.op("LogSoftmax", scores, axis=-1)
    to.op("Squeeze", logs, to.number([0], np.int64), name="letters")


def model(weights: dict[str, Array], quantised: bool = True) -> onnx.ModelProto:
    """The whole graph."""
    to = Writer(weights, quantised)
    sound = to.op("Gelu", to.conv(_levelled(to), "conv2", 3))
    states = to.op("Transpose", to.op("Gelu", to.conv(sound, "conv3", 2)), perm=[0, 2, 1])
    turn = _turn(to, states)
    keys, values = [], []
    layers = len({name.split(".")[1] for name in weights if name.startswith("layers.")})
    for number in range(layers):
        states, key, value = _layer(to, states, number, turn)
        keys.append(key)
        values.append(value)
    states = to.normed(states, "layer_norm")
    to.op("Identity", states, name="states")
    to.op("Concat", *keys, axis=0, name="new_keys")
    to.op("Concat", *values, axis=0, name="new_values")
    _head(to, states)
    rows = (layers, shape.HEADS)
    kept = (layers, shape.HEADS, "past", shape.HEAD_WIDTH)
    new = (*rows, "frames", shape.HEAD_WIDTH)
    inputs = {
        "samples": (1, "n"),
        "levels": (1, 1, shape.LEVEL_HISTORY),
        "keys": kept,
        "values": kept,
        "before": (1, shape.LOOK_BACK, shape.WIDTH),
    }
    outputs = {
        "letters": ("frames", shape.BLANK + 1),
        "states": (1, "frames", shape.WIDTH),
        "new_levels": (1, 1, "steps"),
        "new_keys": new,
        "new_values": new,
    }
    graph = helper.make_graph(
        to.nodes,
        "letters",
        [helper.make_tensor_value_info(name, TensorProto.FLOAT, size) for name, size in inputs.items()]
        + [helper.make_tensor_value_info("position", TensorProto.INT64, ())],
        [helper.make_tensor_value_info(name, TensorProto.FLOAT, size) for name, size in outputs.items()],
        list(to.constants.values()),
    )
    made = helper.make_model(graph, opset_imports=[helper.make_opsetid("", OPSET)], ir_version=9)
    onnx.checker.check_model(made, full_check=True)
    return made


def read_weights(path: Path) -> dict[str, Array]:
    """What train.py saved, as float arrays by name."""
    kept = torch.load(path, map_location="cpu", weights_only=True)
    return {name: value.float().numpy() for name, value in kept["ear"].items()}


def read_model(path: Path) -> dict[str, Array]:
    """The weights of an exported model, as float arrays by name."""
    kept = {each.name: numpy_helper.to_array(each) for each in onnx.load(path).graph.initializer}
    found: dict[str, Array] = {}
    for name, value in kept.items():
        if name.endswith(".8bit"):
            base = name.removesuffix(".8bit")
            scale = kept[f"{base}.scale"].reshape(-1, *[1] * (value.ndim - 1))
            found[base] = value.astype(np.float32) * scale
        elif name.endswith((".weight", ".bias")):
            found[name] = value.astype(np.float32)
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Export."""
    parser = argparse.ArgumentParser(description="Write the network as ONNX.")
    parser.add_argument("weights", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--float", action="store_true", help="leave the weights in floating point")
    given = parser.parse_args(arguments)
    given.out.parent.mkdir(parents=True, exist_ok=True)
    onnx.save(model(read_weights(given.weights), not given.float), given.out)
    print(f"{given.out}: {given.out.stat().st_size} bytes")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
