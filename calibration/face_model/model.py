"""The network: a small U-Net that halves the picture at once, so that one core is enough to run it."""

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
        levels = [self.first(self.stem(picture))]
        for down in self.down:
            levels.append(down(levels[-1]))
        x = self.deep(levels.pop())
        x = x + self.overall(x.mean((2, 3), keepdim=True))
        for up, join in zip(reversed(self.up), reversed(self.join)):
            x = join(torch.cat([levels.pop(), up(x)], 1))
        return self.out(x)


def write_onnx(model: FaceModel, path) -> None:
    """Write the weights for `cv2.dnn`, any height and width that are multiples of 32."""
    model = model.float().cpu().eval()
    torch.onnx.export(
        model, (torch.zeros(1, CHANNELS, 96, 128),), str(path), opset_version=13, dynamo=False,
        input_names=["picture"], output_names=["logits"],
        dynamic_axes={"picture": {2: "height", 3: "width"}, "logits": {2: "height", 3: "width"}},
    )  # fmt: skip
