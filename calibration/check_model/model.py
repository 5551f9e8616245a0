"""The network: a small U-Net whose first layer halves the picture; its output is half as fine as its input.

Method: Ronneberger, Fischer and Brox 2015, "U-Net: Convolutional Networks for Biomedical Image Segmentation".
"""

from pathlib import Path

import torch
from torch import nn


def block(into: int, out: int) -> nn.Sequential:
    """Two 3 x 3 convolutions."""
    layers = []
    for a, b in ((into, out), (out, out)):
        layers += [nn.Conv2d(a, b, 3, padding=1, bias=False), nn.BatchNorm2d(b), nn.ReLU(inplace=True)]
    return nn.Sequential(*layers)


class CheckModel(nn.Module):
    """(n, 3, h, w) light, warmth, wood to (n, 1, h / 2, w / 2) log odds of a check."""

    def __init__(self, widths=(16, 28, 44, 64)):
        super().__init__()
        self.first = nn.Sequential(
            nn.Conv2d(3, widths[0], 4, stride=2, padding=1, bias=False), nn.BatchNorm2d(widths[0]), nn.ReLU(inplace=True)
        )
        self.down = nn.ModuleList([block(widths[max(0, k - 1)], width) for k, width in enumerate(widths)])
        self.up = nn.ModuleList(
            [nn.ConvTranspose2d(widths[k + 1], widths[k], 2, stride=2) for k in range(len(widths) - 1)]
        )
        self.join = nn.ModuleList([block(2 * widths[k], widths[k]) for k in range(len(widths) - 1)])
        self.last = nn.Conv2d(widths[0], 1, 1)

    def forward(self, picture):
        """Log odds."""
        seen, value = [], self.first(picture)
        for k, part in enumerate(self.down):
            value = part(value if k == 0 else nn.functional.max_pool2d(value, 2))
            seen.append(value)
        for k in reversed(range(len(self.up))):
            value = self.join[k](torch.cat([self.up[k](value), seen[k]], 1))
        return self.last(value)


def write_onnx(model: CheckModel, path: Path) -> None:
    """The trained network for `cv2.dnn`, any size that 16 divides."""
    model = model.cpu().eval()
    torch.onnx.export(
        model,
        torch.zeros(1, 3, 256, 512),
        str(path),
        input_names=["picture"],
        output_names=["odds"],
        dynamic_axes={"picture": {2: "h", 3: "w"}, "odds": {2: "h", 3: "w"}},
        opset_version=17,
        dynamo=False,
    )
