"""Prints what the square codes on a page say, of a picture as `pdftoppm -gray` writes it."""

import sys

import numpy
import zxingcpp

with open(sys.argv[1], "rb") as file:
    assert file.readline() == b"P5\n"
    width, height = map(int, file.readline().split())
    assert file.readline() == b"255\n"
    page = numpy.frombuffer(file.read(), numpy.uint8).reshape(height, width)
for code in zxingcpp.read_barcodes(page):
    print(code.format.name, code.text)
