"""The bay board: rows in, frozen lines and a drawing out, in a fixed number of queries."""

from shopfloor.board.chart import Band, Chart, Stay, draw_chart
from shopfloor.board.lines import Board, read_board

__all__ = ["Band", "Board", "Chart", "Stay", "draw_chart", "read_board"]
