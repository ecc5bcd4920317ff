"""The two small networks: one finds a counter in a photograph, one reads the straightened strip."""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional as F

STRIDE = 8
COLUMNS = 80


def conv(
    a: int, b: int, k: int | tuple[int, int] = 3, s: int | tuple[int, int] = 1
) -> nn.Sequential:
    """Convolution, normalisation, ReLU."""
    pad = k // 2 if isinstance(k, int) else (k[0] // 2, k[1] // 2)
    return nn.Sequential(
        nn.Conv2d(a, b, k, s, pad, bias=False), nn.BatchNorm2d(b), nn.ReLU(inplace=True)
    )


class Block(nn.Module):
    """Two convolutions beside a short cut."""

    def __init__(self, c: int) -> None:
        super().__init__()
        self.a = conv(c, c)
        self.b = nn.Sequential(nn.Conv2d(c, c, 3, 1, 1, bias=False), nn.BatchNorm2d(c))

    def forward(self, x: Tensor) -> Tensor:
        """Add what the block sees."""
        return F.relu(x + self.b(self.a(x)))


class Finder(nn.Module):
    """(n, 3, h, w) of 0..1, sides a multiple of 32, to (n, 10, h/8, w/8).

    Channels 0 and 1 say where the middle of a drum counter or a panel is (before the sigmoid);
    2 to 9 are its corners from the cell's own middle, x and y in units of 32 pixels.
    """

    def __init__(self) -> None:
        super().__init__()
        self.s4 = nn.Sequential(conv(3, 16, 3, 2), conv(16, 32, 3, 2), Block(32))
        self.s8 = nn.Sequential(conv(32, 64, 3, 2), Block(64), Block(64))
        self.s16 = nn.Sequential(conv(64, 96, 3, 2), Block(96), Block(96), Block(96))
        self.s32 = nn.Sequential(conv(96, 128, 3, 2), Block(128), Block(128))
        self.up16, self.up8 = conv(128, 96, 1), conv(96, 64, 1)
        self.mix16, self.mix8 = Block(96), nn.Sequential(Block(64), Block(64))
        self.heat, self.quad = nn.Conv2d(64, 2, 1), nn.Sequential(conv(64, 64), nn.Conv2d(64, 8, 1))
        nn.init.constant_(self.heat.bias, -4.0)

    def forward(self, x: Tensor) -> Tensor:
        """Give the maps."""
        x = self.s4((x - 0.45) * 4)
        a = self.s8(x)
        b = self.s16(a)
        c = self.s32(b)
        b = self.mix16(b + F.interpolate(self.up16(c), scale_factor=2.0))
        a = self.mix8(a + F.interpolate(self.up8(b), scale_factor=2.0))
        return torch.cat([self.heat(a), self.quad(a)], 1)


class Line(nn.Module):
    """A look to both sides along the strip."""

    def __init__(self, c: int, d: int) -> None:
        super().__init__()
        self.a = nn.Sequential(
            nn.Conv1d(c, c, 3, 1, d, d, bias=False), nn.BatchNorm1d(c), nn.ReLU(inplace=True)
        )
        self.b = nn.Sequential(nn.Conv1d(c, c, 1, bias=False), nn.BatchNorm1d(c))

    def forward(self, x: Tensor) -> Tensor:
        """Add what is seen."""
        return F.relu(x + self.b(self.a(x)))


class Reader(nn.Module):
    """(n, 3, 80, 320) of 0..1 to columns (n, 104, 80) and the kind (n, 3: drum, panel, neither).

    Rows 0 to 99 of a column: the drum's phase in tenths of a digit (before the softmax); 100: a
    drum's middle is here; 101: it is of another colour; 102: a decimal point; 103: legible.
    """

    def __init__(self) -> None:
        super().__init__()
        self.body = nn.Sequential(
            conv(3, 24, 3, 2),
            conv(24, 48, 3, 2),
            Block(48),
            Block(48),
            conv(48, 80, 3, (2, 1)),
            Block(80),
            Block(80),
            conv(80, 112, 3, (2, 1)),
            Block(112),
            Block(112),
        )
        self.fold = nn.Sequential(
            nn.Conv2d(112, 160, (5, 1), bias=False), nn.BatchNorm2d(160), nn.ReLU(inplace=True)
        )
        self.line = nn.Sequential(Line(160, 1), Line(160, 2), Line(160, 4), Line(160, 8))
        self.phase = nn.Sequential(
            nn.Conv1d(160, 160, 3, 1, 1),
            nn.ReLU(inplace=True),
            nn.Dropout(0.1),
            nn.Conv1d(160, 100, 1),
        )
        self.marks = nn.Conv1d(160, 4, 1)
        self.kind = nn.Linear(160, 3)
        nn.init.constant_(self.marks.bias, -2.0)

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor]:
        """Give the columns and the kind."""
        x = self.fold(self.body((x - 0.45) * 4)).squeeze(2)
        x = self.line(x)
        return torch.cat([self.phase(x), self.marks(x)], 1), self.kind(x.mean(2))
