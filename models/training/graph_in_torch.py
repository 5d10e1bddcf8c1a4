"""Runs an ONNX graph node by node in torch, its quantisation undone: for speech synthesis on a GPU.

Only what Kokoro's graph holds is implemented; an operator without an entry raises NotImplementedError by its name.
Quantised weights are multiplied out, and activations stay floating point, so the sound is a little cleaner than that
of the 8-bit graph.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import onnx
import torch
import torch.nn.functional as F
from onnx import numpy_helper
from torch import Tensor

FLOAT, INT32, INT64, BOOL = 1, 6, 7, 9
Value = Any
"""A tensor, or None for an input that is left out."""


@dataclass(frozen=True, slots=True)
class Node:
    """A node of the graph, and the values that nobody needs after it."""

    operator: str
    name: str
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    attributes: Mapping[str, Any]
    spent: tuple[str, ...]


class Graph:
    """A loaded graph on one device. `keep` names inner values that `run` returns beside the first output; `changes`
    what is done to inner values as soon as they are there.
    """

    def __init__(
        self,
        path: Path,
        device: str,
        keep: tuple[str, ...] = (),
        changes: Mapping[str, Callable[[Tensor], Tensor]] = MappingProxyType({}),
    ) -> None:
        self._changes = changes
        graph = onnx.load(path).graph
        self.device = torch.device(device)
        self._wanted = (graph.output[0].name, *keep)
        self._constants = {each.name: self._constant(each) for each in graph.initializer}
        self._nodes = self._read_nodes(graph)
        self._float_weights: dict[str, Tensor] = {}
        self._lstms: dict[str, torch.nn.LSTM] = {}

    def _constant(self, initialiser: Any) -> Tensor:
        array = np.array(numpy_helper.to_array(initialiser))
        tensor = torch.from_numpy(array)
        # Shapes and places stay on the CPU, where they are needed; weights go to the device.
        return tensor.to(self.device) if array.dtype in (np.float32, np.uint8, np.int8) else tensor

    def _read_nodes(self, graph: Any) -> list[Node]:
        last = {name: place for place, node in enumerate(graph.node) for name in node.input}
        nodes = []
        for place, node in enumerate(graph.node):
            spent = {name for name in node.input if last[name] == place}
            spent -= {*self._constants, *self._wanted}
            attributes = {each.name: onnx.helper.get_attribute_value(each) for each in node.attribute}
            nodes.append(
                Node(node.op_type, node.name, tuple(node.input), tuple(node.output), attributes, tuple(spent))
            )
        return nodes

    @torch.inference_mode()
    def run(self, **feeds: Any) -> tuple[Tensor, ...]:
        """The first output and the values of `keep`, for inputs given by name as arrays."""
        values: dict[str, Value] = {
            name: torch.as_tensor(value).to(self.device) for name, value in feeds.items()
        }
        for node in self._nodes:
            given = [self._value(name, values) for name in node.inputs]
            special = _SPECIAL.get(node.operator)
            if special is not None:
                results = special(self, node, given)
            elif node.operator in _PLAIN:
                results = (_PLAIN[node.operator](node, given),)
            else:
                raise NotImplementedError(node.operator)
            values.update(zip(node.outputs, results, strict=False))
            for name in self._changes.keys() & set(node.outputs):
                values[name] = self._changes[name](values[name])
            for name in node.spent:
                values.pop(name, None)
        return tuple(values[name] for name in self._wanted)

    def _value(self, name: str, values: Mapping[str, Value]) -> Value:
        if name == "":
            return None
        return values[name] if name in values else self._constants[name]

    def weights(self, name: str, zero: Tensor) -> Tensor:
        """Quantised weights as floats, zero point taken off."""
        if name not in self._float_weights:
            self._float_weights[name] = self._constants[name].float() - zero.float()
        return self._float_weights[name]

    def lstm(self, node: Node, given: list[Value]) -> torch.nn.LSTM:
        """The node's recurrent layer, made once."""
        if node.name not in self._lstms:
            self._lstms[node.name] = _lstm(given).to(self.device)
        return self._lstms[node.name]


def _lstm(given: list[Value]) -> torch.nn.LSTM:
    inward, across, bias = given[1], given[2], given[3]
    inward_scale, inward_zero, across_scale, across_zero = (each.float() for each in given[8:12])
    directions, width, four = inward.shape
    hidden = four // 4
    layer = torch.nn.LSTM(width, hidden, bidirectional=directions == 2)

    def gates(rows: Tensor) -> Tensor:
        """ONNX orders the gates input, output, forget, cell; torch input, forget, cell, output."""
        first, out, forget, cell = rows.reshape(4, hidden, *rows.shape[1:])
        return torch.cat([first, forget, cell, out]).contiguous()

    for each in range(directions):
        end = "_l0" + ("_reverse" if each else "")
        values = {
            "weight_ih": ((inward[each].float() - inward_zero[each]) * inward_scale[each]).T,
            "weight_hh": ((across[each].float() - across_zero[each]) * across_scale[each]).T,
            "bias_ih": bias[each][:four],
            "bias_hh": bias[each][four:],
        }
        for name, value in values.items():
            getattr(layer, name + end).data = gates(value)
    return layer


def _ints(tensor: Tensor) -> list[int]:
    return [int(each) for each in tensor.reshape(-1).tolist()]


def _together(*tensors: Tensor) -> list[Tensor]:
    """All on one device: on the GPU's as soon as one is there."""
    away = next((each.device for each in tensors if each.device.type != "cpu"), torch.device("cpu"))
    return [each.to(away) for each in tensors]


def _binary(work: Callable[[Tensor, Tensor], Tensor]) -> Callable[[Node, list[Value]], Tensor]:
    def run(node: Node, given: list[Value]) -> Tensor:
        first, second = given if given[0].device == given[1].device else _together(*given)
        return work(first, second)

    return run


def _unary(work: Callable[[Tensor], Tensor]) -> Callable[[Node, list[Value]], Tensor]:
    return lambda node, given: work(given[0])


def _divide(first: Tensor, second: Tensor) -> Tensor:
    if first.is_floating_point():
        return torch.nan_to_num(first / second)
    return torch.div(first, second, rounding_mode="trunc")


def _cast(node: Node, given: list[Value]) -> Tensor:
    value: Tensor = given[0]
    to = node.attributes["to"]
    if to == INT32:  # only the sums of the quantised products: they stay floats
        return value
    return {FLOAT: value.float, INT64: value.long, BOOL: value.bool}[to]()


def _conv_transpose(node: Node, given: list[Value]) -> Tensor:
    at = node.attributes
    extra = at.get("output_padding", [0])[0]
    bias = given[2] if len(given) > 2 else None
    return F.conv_transpose1d(
        given[0], given[1], bias, at["strides"][0], at["pads"][0], extra, at["group"], at["dilations"][0]
    )


def _convolved(node: Node, value: Tensor, weights: Tensor, bias: Tensor | None) -> Tensor:
    at = node.attributes
    before, after = at["pads"]
    if before != after:
        value, before = F.pad(value, (before, after)), 0
    return F.conv1d(value, weights, bias, at["strides"][0], before, at["dilations"][0], at["group"])


def _conv(node: Node, given: list[Value]) -> Tensor:
    return _convolved(node, given[0], given[1], given[2] if len(given) > 2 else None)


def _fused_product(node: Node, given: list[Value]) -> Tensor:
    first = given[0].transpose(-1, -2) if node.attributes["transA"] else given[0]
    result: Tensor = first @ given[1] * node.attributes["alpha"]
    return result


def _unsqueeze(node: Node, given: list[Value]) -> Tensor:
    value: Tensor = given[0]
    for axis in sorted(_ints(given[1])):
        value = value.unsqueeze(axis)
    return value


def _squeeze(node: Node, given: list[Value]) -> Tensor:
    value: Tensor = given[0]
    for axis in sorted(_ints(given[1]), reverse=True):
        value = value.squeeze(axis)
    return value


def _reshape(node: Node, given: list[Value]) -> Tensor:
    value: Tensor = given[0]
    return value.reshape([value.shape[at] if size == 0 else size for at, size in enumerate(_ints(given[1]))])


def _gather(node: Node, given: list[Value]) -> Tensor:
    value, places = given
    axis = node.attributes.get("axis", 0)
    places = places.to(value.device)
    places = torch.where(places < 0, places + value.shape[axis], places)
    found = torch.index_select(value, axis, places.reshape(-1))
    return found.reshape((*value.shape[:axis], *places.shape, *value.shape[axis + 1 :]))


def _slice(node: Node, given: list[Value]) -> Tensor:
    value: Tensor = given[0]
    starts, stops = _ints(given[1]), _ints(given[2])
    axes = _ints(given[3]) if len(given) > 3 else list(range(len(starts)))
    steps = _ints(given[4]) if len(given) > 4 else [1] * len(starts)
    for start, stop, axis, step in zip(starts, stops, axes, steps, strict=True):
        size = value.shape[axis]
        last = None if step < 0 and stop < -size else stop
        taken = torch.arange(*slice(start, last, step).indices(size), device=value.device)
        value = value.index_select(axis, taken)
    return value


def _concat(node: Node, given: list[Value]) -> Tensor:
    return torch.cat(_together(*given), node.attributes["axis"])


def _expand(node: Node, given: list[Value]) -> Tensor:
    value: Tensor = given[0]
    return value.expand(np.broadcast_shapes(tuple(value.shape), tuple(_ints(given[1]))))


def _where(node: Node, given: list[Value]) -> Tensor:
    condition, chosen, other = _together(*given)
    return torch.where(condition, chosen, other)


def _mean(node: Node, given: list[Value]) -> Tensor:
    result: Tensor = given[0].mean(_ints(given[1]), keepdim=bool(node.attributes.get("keepdims", 1)))
    return result


def _sum(node: Node, given: list[Value]) -> Tensor:
    result: Tensor = given[0].sum(_ints(given[1]), keepdim=bool(node.attributes.get("keepdims", 1)))
    return result


def _clip(node: Node, given: list[Value]) -> Tensor:
    low, high = (
        given[place].item() if len(given) > place and given[place] is not None else None for place in (1, 2)
    )
    return torch.clamp(given[0], low, high)


def _fast_gelu(node: Node, given: list[Value]) -> Tensor:
    return F.gelu(given[0] + given[1] if len(given) > 1 else given[0], approximate="tanh")


def _layer_norm(node: Node, given: list[Value]) -> Tensor:
    return F.layer_norm(given[0], given[0].shape[-1:], given[1], given[2], node.attributes["epsilon"])


def _skip_layer_norm(node: Node, given: list[Value]) -> Tensor:
    both = given[0] + given[1]
    return F.layer_norm(both, both.shape[-1:], given[2], given[3], node.attributes["epsilon"])


def _resize(node: Node, given: list[Value]) -> Tensor:
    factor = given[2].reshape(-1).tolist()[-1]
    value: Tensor = given[0]
    if node.attributes["mode"] == b"nearest":
        size = int(value.shape[-1] * factor)
        taken = torch.floor(torch.arange(size, device=value.device) / factor).long()
        return value.index_select(-1, taken.clamp(max=value.shape[-1] - 1))
    return F.interpolate(value, scale_factor=factor, mode="linear", recompute_scale_factor=False)


def _pad(node: Node, given: list[Value]) -> Tensor:
    sizes = _ints(given[1])
    return F.pad(given[0], (sizes[len(sizes) // 2 - 1], sizes[-1]), mode=node.attributes["mode"].decode())


def _stft(node: Node, given: list[Value]) -> Tensor:
    hop, size = _ints(given[1])[0], _ints(given[3])[0]
    pieces = given[0].reshape(given[0].shape[0], -1).unfold(1, size, hop) * given[2]
    found = torch.fft.rfft(pieces)
    return torch.stack([found.real, found.imag], -1)


def _scatter(node: Node, given: list[Value]) -> Tensor:
    result: Tensor = given[0].clone()
    result[tuple(given[1].to(result.device).unbind(-1))] = given[2]
    return result


def _rounded_down(node: Node, given: list[Value]) -> Tensor:
    # Quantised biases are rounded in the graph; here they are floats and stay so.
    bias = "bias" in (node.name + node.outputs[0]).lower()
    return given[0] if bias else torch.floor(given[0])


_PLAIN: dict[str, Callable[[Node, list[Value]], Tensor]] = {
    "Add": _binary(torch.add),
    "Sub": _binary(torch.sub),
    "Mul": _binary(torch.mul),
    "Div": _binary(_divide),
    "Pow": _binary(torch.pow),
    "Equal": _binary(torch.eq),
    "Greater": _binary(torch.gt),
    "GreaterOrEqual": _binary(torch.ge),
    "Less": _binary(torch.lt),
    "And": _binary(torch.logical_and),
    "Sqrt": _unary(torch.sqrt),
    "Sin": _unary(torch.sin),
    "Cos": _unary(torch.cos),
    "Exp": _unary(torch.exp),
    "Atan": _unary(torch.atan),
    "Tanh": _unary(torch.tanh),
    "Sigmoid": _unary(torch.sigmoid),
    "Round": _unary(torch.round),
    "NonZero": _unary(lambda value: torch.nonzero(value).T),
    "Shape": _unary(lambda value: torch.tensor(value.shape)),
    "Floor": _rounded_down,
    "Cast": _cast,
    "DequantizeLinear": lambda node, given: (given[0].float() - given[2].float()) * given[1],
    "Conv": _conv,
    "ConvTranspose": _conv_transpose,
    "MatMul": lambda node, given: given[0] @ given[1],
    "FusedMatMul": _fused_product,
    "Unsqueeze": _unsqueeze,
    "Squeeze": _squeeze,
    "Reshape": _reshape,
    "Gather": _gather,
    "Slice": _slice,
    "Concat": _concat,
    "Expand": _expand,
    "Where": _where,
    "ReduceMean": _mean,
    "ReduceSum": _sum,
    "Clip": _clip,
    "FastGelu": _fast_gelu,
    "LayerNormalization": _layer_norm,
    "SkipLayerNormalization": _skip_layer_norm,
    "LeakyRelu": lambda node, given: F.leaky_relu(given[0], node.attributes["alpha"]),
    "Softmax": lambda node, given: torch.softmax(given[0], node.attributes["axis"]),
    "Transpose": lambda node, given: given[0].permute(*node.attributes["perm"]),
    "CumSum": lambda node, given: torch.cumsum(given[0], int(given[1].item())),
    "Resize": _resize,
    "Pad": _pad,
    "STFT": _stft,
    "ScatterND": _scatter,
}


def _quantised(graph: Graph, node: Node, given: list[Value]) -> tuple[Tensor, ...]:
    """Dynamic quantisation is left out: the value itself, scale one, zero point none."""
    return given[0], torch.ones((), device=graph.device), torch.zeros((), device=graph.device)


def _integer_conv(graph: Graph, node: Node, given: list[Value]) -> tuple[Tensor, ...]:
    return (_convolved(node, given[0], graph.weights(node.inputs[1], given[3]), None),)


def _integer_product(graph: Graph, node: Node, given: list[Value]) -> tuple[Tensor, ...]:
    constant = node.inputs[1] in graph._constants
    second = graph.weights(node.inputs[1], given[3]) if constant else given[1]
    return (given[0] @ second,)


def _recurrent(graph: Graph, node: Node, given: list[Value]) -> tuple[Tensor, ...]:
    layer = graph.lstm(node, given)
    found = layer(given[0])[0]
    time, batch, width = found.shape
    directions = 2 if layer.bidirectional else 1
    return (found.reshape(time, batch, directions, width // directions).permute(0, 2, 1, 3),)


def _split(graph: Graph, node: Node, given: list[Value]) -> tuple[Tensor, ...]:
    return tuple(torch.split(given[0], _ints(given[1]), node.attributes["axis"]))


def _range(graph: Graph, node: Node, given: list[Value]) -> tuple[Tensor, ...]:
    start, stop, step = (each.reshape(-1)[0].item() for each in given)
    return (torch.arange(start, stop, step, device=graph.device),)


def _constant_of_shape(graph: Graph, node: Node, given: list[Value]) -> tuple[Tensor, ...]:
    value = torch.zeros(1)
    if "value" in node.attributes:
        value = torch.from_numpy(np.array(numpy_helper.to_array(node.attributes["value"])))
    device = torch.device("cpu") if value.dtype == torch.int64 else graph.device
    return (torch.full(_ints(given[0]), value.item(), dtype=value.dtype, device=device),)


_SPECIAL: dict[str, Callable[[Graph, Node, list[Value]], tuple[Tensor, ...]]] = {
    "DynamicQuantizeLinear": _quantised,
    "ConvInteger": _integer_conv,
    "MatMulInteger": _integer_product,
    "DynamicQuantizeLSTM": _recurrent,
    "Split": _split,
    "Range": _range,
    "ConstantOfShape": _constant_of_shape,
}
