"""Write trained networks as ONNX with half-precision weights: `export.py DIR_OF_PT OUT_DIR`."""

from __future__ import annotations

import sys
from pathlib import Path

import onnx
import torch
from nets import Finder, Reader
from onnx import TensorProto, helper, numpy_helper


def halve(path: Path) -> None:
    """Keep the weights in half precision; they are widened again as the model is loaded."""
    model = onnx.load(path)
    casts, kept = [], []
    for tensor in model.graph.initializer:
        array = numpy_helper.to_array(tensor)
        if array.dtype == "float32" and array.size > 256:
            small = numpy_helper.from_array(array.astype("float16"), tensor.name + "_half")
            kept.append(small)
            casts.append(
                helper.make_node("Cast", [small.name], [tensor.name], to=TensorProto.FLOAT)
            )
        else:
            kept.append(tensor)
    del model.graph.initializer[:]
    model.graph.initializer.extend(kept)
    nodes = casts + list(model.graph.node)
    del model.graph.node[:]
    model.graph.node.extend(nodes)
    onnx.checker.check_model(model)
    onnx.save(model, path)


def main() -> None:
    """Export both."""
    source, out = Path(sys.argv[1]), Path(sys.argv[2])
    for name, net, x, axes in (
        ("finder", Finder(), torch.zeros(1, 3, 384, 512), {"image": {2: "high", 3: "wide"}}),
        ("reader", Reader(), torch.zeros(1, 3, 80, 320), {"image": {0: "n"}}),
    ):
        net.load_state_dict(torch.load(source / f"{name}.pt", map_location="cpu"))
        net.eval()
        outs = ["maps"] if name == "finder" else ["columns", "kind"]
        torch.onnx.export(
            net,
            (x,),
            out / f"{name}.onnx",
            input_names=["image"],
            output_names=outs,
            dynamic_axes=axes,
            opset_version=17,
            dynamo=False,
        )
        halve(out / f"{name}.onnx")


if __name__ == "__main__":
    main()
