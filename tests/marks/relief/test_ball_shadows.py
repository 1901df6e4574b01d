import numpy as np

from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import light_at
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.relief.ball_shadows import shade


def test_the_shadow_lies_where_the_ball_stands_in_the_way():
    plate = PlateFrame((120, 200), 0.1, True)
    ball = Circle(100.0, 60.0, 20.0)
    torch = np.array([-90.0, 40.0, 110.0])
    band = np.ones((120, 200), np.float32)
    for top in range(0, 120, 30):
        for left in (0, 110):
            part = band[top : top + 30, left : left + 110]
            shade(part, (top, left), plate, light_at(torch), (ball,))
    middle = np.array([*plate.to_mm(ball.x, ball.y), 2.0])
    for y in range(0, 120, 7):
        for x in range(0, 200, 7):
            place = np.array([*plate.to_mm(x, y), 0.0])
            way = (torch - place) / np.linalg.norm(torch - place)
            miss = np.linalg.norm(np.cross(middle - place, way)) / 0.1
            if abs(miss - 24) > 1.5:
                assert (band[y, x] < 0) == (miss < 24), (x, y)
