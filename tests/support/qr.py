"""Reads a QR code from its modules, without any library: one block, byte mode, no repair of damage.

By ISO/IEC 18004 (structure from memory, checked by reading what the product wrote). Versions 2 to 6, level M up to
version 3, which hold one block.
"""

from io import BytesIO

from PIL import Image

Modules = list[list[int]]
MASKS = (
    lambda row, column: (row + column) % 2 == 0,
    lambda row, column: row % 2 == 0,
    lambda row, column: column % 3 == 0,
    lambda row, column: (row + column) % 3 == 0,
    lambda row, column: (row // 2 + column // 3) % 2 == 0,
    lambda row, column: row * column % 2 + row * column % 3 == 0,
    lambda row, column: (row * column % 2 + row * column % 3) % 2 == 0,
    lambda row, column: ((row + column) % 2 + row * column % 3) % 2 == 0,
)
FORMAT_MASK = 0b101010000010010


def modules_of(png: bytes) -> Modules:
    """The dark (1) and light (0) modules of a picture, its quiet zone cut off. The finder is seven modules wide."""
    picture = Image.open(BytesIO(png)).convert("L")
    box = picture.point(lambda level: 255 if level < 128 else 0).getbbox()
    picture = picture.crop(box)
    dark = 0
    while picture.getpixel((dark, 0)) < 128:
        dark += 1
    module = dark / 7
    size = round(picture.width / module)
    middle = [int((index + 0.5) * module) for index in range(size)]
    return [[int(picture.getpixel((x, y)) < 128) for x in middle] for y in middle]


def text_of(modules: Modules) -> str:
    """The bytes in the code as text. Raises ValueError for another mode than bytes."""
    bits = _data_bits(modules)
    if bits[:4] != [0, 1, 0, 0]:
        raise ValueError(f"mode must be bytes (0100), got {bits[:4]}")
    count = _number(bits[4:12])
    return bytes(_number(bits[12 + 8 * each : 20 + 8 * each]) for each in range(count)).decode()


def _data_bits(modules: Modules) -> list[int]:
    size = len(modules)
    mask = MASKS[_mask_number(modules)]
    bits, upward = [], True
    for right in (each if each > 6 else each - 1 for each in range(size - 1, 0, -2)):
        for row in range(size - 1, -1, -1) if upward else range(size):
            for column in (right, right - 1):
                if not _is_function(row, column, size):
                    bits.append(modules[row][column] ^ int(mask(row, column)))
        upward = not upward
    return bits


def _mask_number(modules: Modules) -> int:
    """Bits 10 to 12 of the format information beside the upper left finder."""
    first = [modules[8][column] for column in (0, 1, 2, 3, 4)]
    return _number(first[2:]) ^ (FORMAT_MASK >> 10 & 0b111)


def _is_function(row: int, column: int, size: int) -> bool:
    """Finders with format information, timing, and the one alignment pattern."""
    in_finder = (row < 9 and column < 9) or (row < 9 and column >= size - 8) or (row >= size - 8 and column < 9)
    in_alignment = abs(row - (size - 7)) <= 2 and abs(column - (size - 7)) <= 2
    return in_finder or row == 6 or column == 6 or in_alignment


def _number(bits: list[int]) -> int:
    return int("".join(map(str, bits)), 2)
