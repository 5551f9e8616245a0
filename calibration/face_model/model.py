"""The network: a small U-Net that halves the picture at once, so that one core is enough to run it; and a head on top of it.

The head reads what the U-Net has made of the picture and says where a face goes on hidden behind something. It was trained
afterwards, with the U-Net frozen (`train_hidden`).
"""

import copy

import onnx
import torch
from torch import nn

WIDTHS = (24, 48, 96, 112, 112)  # at 1/2, 1/4, 1/8, 1/16, 1/32 of the picture
CHANNELS = 7  # red, green, blue, card, not seen, direction of the camera (x, y)
CLASSES = 5


def _step(inputs: int, outputs: int, stride: int = 1, spread: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, 3, stride, spread, spread, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
    )


class FaceModel(nn.Module):
    """(n, 7, h, w) float32 to (n, 5, h, w) logits; h and w are multiples of 32."""

    def __init__(self):
        super().__init__()
        self.stem = nn.Sequential(
            nn.Conv2d(CHANNELS, WIDTHS[0], 4, 2, 1, bias=False), nn.BatchNorm2d(WIDTHS[0]), nn.ReLU(inplace=True)
        )
        self.first = _step(WIDTHS[0], WIDTHS[0])
        self.down = nn.ModuleList(nn.Sequential(_step(a, b, 2), _step(b, b)) for a, b in zip(WIDTHS, WIDTHS[1:]))
        self.deep = nn.Sequential(_step(WIDTHS[-1], WIDTHS[-1], spread=2), _step(WIDTHS[-1], WIDTHS[-1], spread=4))
        self.overall = nn.Sequential(nn.Conv2d(WIDTHS[-1], WIDTHS[-1], 1), nn.ReLU(inplace=True))
        self.up = nn.ModuleList(nn.ConvTranspose2d(b, a, 2, 2) for a, b in zip(WIDTHS, WIDTHS[1:]))
        self.join = nn.ModuleList(nn.Sequential(_step(2 * a, a), _step(a, a)) for a in WIDTHS[:-1])
        self.out = nn.ConvTranspose2d(WIDTHS[0], CLASSES, 2, 2)

    def forward(self, picture):
        return self.out(self.decoded(picture)[-1])

    def decoded(self, picture) -> list[torch.Tensor]:
        """What each step of the way up makes of the picture: at 1/16, 1/8, 1/4, 1/2 of its size."""
        levels, found = [self.first(self.stem(picture))], []
        for down in self.down:
            levels.append(down(levels[-1]))
        x = self.deep(levels.pop())
        x = x + self.overall(x.mean((2, 3), keepdim=True))
        for up, join in zip(reversed(self.up), reversed(self.join)):
            x = join(torch.cat([levels.pop(), up(x)], 1))
            found.append(x)
        return found


class HiddenHead(nn.Module):
    """Decoded maps at 1/16, 1/8 and 1/4 to (n, 1, h / 4, w / 4) log odds that a face goes on there behind something.

    Most of it works at 1/8 and, spread out, looks about a metre around: what is hidden is told by how the edges on both sides
    would go on.
    """

    SPREADS = (1, 2, 4, 8)

    def __init__(self, width: int = 40, fine: int = 16):
        super().__init__()
        self.read = nn.ModuleList(_point(inputs, width) for inputs in (WIDTHS[3], WIDTHS[2]))
        self.read_fine = _point(WIDTHS[1], fine)
        self.to_eighth = nn.ConvTranspose2d(width, width, 2, 2)
        self.around = nn.ModuleList(_step(width, width, spread=spread) for spread in self.SPREADS)
        self.to_quarter = nn.ConvTranspose2d(width, fine, 2, 2)
        self.last = nn.Sequential(_step(2 * fine, fine), nn.Conv2d(fine, 1, 1))
        nn.init.constant_(self.last[-1].bias, -4.0)

    def forward(self, decoded):
        x = self.to_eighth(self.read[0](decoded[0])) + self.read[1](decoded[1])
        for step in self.around:
            x = x + step(x)
        return self.last(torch.cat([self.to_quarter(x), self.read_fine(decoded[2])], 1))


class WholeModel(nn.Module):
    """(n, 7, h, w) to (n, 6, h, w): the logits of the five classes, then the log odds of the head."""

    def __init__(self, face: FaceModel, head: HiddenHead):
        super().__init__()
        self.face, self.head = face, head

    def forward(self, picture):
        decoded = self.face.decoded(picture)
        hidden = nn.functional.interpolate(self.head(decoded), scale_factor=4, mode="bilinear", align_corners=False)
        return torch.cat([self.face.out(decoded[-1]), hidden], 1)


def _point(inputs: int, outputs: int) -> nn.Sequential:
    return nn.Sequential(nn.Conv2d(inputs, outputs, 1, bias=False), nn.BatchNorm2d(outputs), nn.ReLU(inplace=True))


def from_onnx(path) -> FaceModel:
    """The U-Net with the weights of a file that `write_onnx` made, with or without a head; not to be trained on.

    In such a file each batch normalisation is part of the convolution before it, so the model has none either.
    """
    graph = onnx.load(str(path)).graph
    values = {value.name: torch.from_numpy(onnx.numpy_helper.to_array(value).copy()) for value in graph.initializer}
    nodes = [node for node in graph.node if node.op_type in ("Conv", "ConvTranspose") and "head" not in node.name]
    model = FaceModel()
    for part in model.modules():
        if isinstance(part, nn.Sequential) and len(part) == 3 and isinstance(part[1], nn.BatchNorm2d):
            part[0].bias = nn.Parameter(torch.zeros(part[0].out_channels))
            part[1] = nn.Identity()
    layers = _in_order(model)
    if len(layers) != len(nodes):
        raise ValueError(f"{path} holds {len(nodes)} layers, the network has {len(layers)}")
    for layer, node in zip(layers, nodes):
        layer.weight.data.copy_(values[node.input[1]])
        layer.bias.data.copy_(values[node.input[2]])
    return model.eval().requires_grad_(False)


@torch.no_grad()
def to_train_on(fused: FaceModel, pictures: torch.Tensor) -> FaceModel:
    """The U-Net of `from_onnx` with batch normalisation again, which changes nothing in what it makes of `pictures`."""
    model, biases = FaceModel().to(pictures.device), {}
    for layer, known in zip(_in_order(model), _in_order(fused)):
        layer.weight.data.copy_(known.weight)
        biases[layer] = known.bias
        if layer.bias is not None:
            layer.bias.data.copy_(known.bias)

    def undone(norm, x, bias):
        norm.running_mean.copy_(x.mean((0, 2, 3)))
        norm.running_var.copy_(x.var((0, 2, 3)))
        norm.weight.copy_((norm.running_var + norm.eps).sqrt())
        norm.bias.copy_(norm.running_mean + bias)

    hooks = []
    for part in model.modules():
        if isinstance(part, nn.Sequential) and len(part) == 3 and isinstance(part[1], nn.BatchNorm2d):
            of = biases[part[0]]
            hooks.append(part[1].register_forward_pre_hook(lambda norm, x, of=of: undone(norm, x[0], of)))
    model.eval()(pictures)
    for hook in hooks:
        hook.remove()
    return model.train()


def _in_order(model: nn.Module) -> list[nn.Module]:
    """Its convolutions in the order in which they are used."""
    used, hooks = [], []
    for part in model.modules():
        if isinstance(part, nn.Conv2d | nn.ConvTranspose2d):
            hooks.append(part.register_forward_pre_hook(lambda layer, _: used.append(layer)))
    model.eval()(torch.zeros(1, CHANNELS, 64, 64, device=next(model.parameters()).device))
    for hook in hooks:
        hook.remove()
    return used


def write_onnx(model: nn.Module, path) -> None:
    """Write the weights for `cv2.dnn`, any height and width that are multiples of 32."""
    model = copy.deepcopy(model).float().cpu().eval()
    torch.onnx.export(
        model, (torch.zeros(1, CHANNELS, 96, 128),), str(path), opset_version=13, dynamo=False,
        input_names=["picture"], output_names=["logits"],
        dynamic_axes={"picture": {2: "height", 3: "width"}, "logits": {2: "height", 3: "width"}},
    )  # fmt: skip
