#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
# Invents the planned route of the demo: over the Ostrel pass and down its far side. Places in open sea, all made up (README.md).
# Writes demo/routes/over-ostrel.gpx: a GPX route without times, a point each 25 m, heights rounded to a metre with errors as a
# terrain model has them. Run it again only to change the route: the file is kept in git.
import math
import pathlib
import random

dice = random.Random(4)
step_m = 5.0
# length [m], gradient, bends in it: (number, degrees each, radius [m])
stretches = [
    (1800, 0.010, (3, 35, 60)),
    (3600, 0.062, (6, 90, 28)),
    (900, 0.015, (1, 40, 80)),
    (2600, 0.075, (7, 150, 14)),
    (500, 0.005, (1, 30, 60)),
    (3800, -0.088, (9, 160, 12)),
    (900, -0.020, (2, 50, 50)),
    (2800, -0.100, (7, 155, 11)),
    (1500, -0.035, (4, 60, 30)),
    (1600, -0.006, (3, 45, 50)),
]

gradient, curvature = [], []
side = 1
for length, slope, (bends, degrees, radius) in stretches:
    n = int(length / step_m)
    part = [0.0] * n
    for b in range(bends):
        middle = int((b + 0.5 + dice.uniform(-0.15, 0.15)) * n / bends)
        half = int(math.radians(degrees) * radius / step_m / 2) + 1
        for k in range(max(0, middle - half), min(n, middle + half)):
            part[k] = side / radius
        side = -side
    curvature += part
    gradient += [slope] * n
for _ in range(2):  # roads change their slope over some tens of metres
    gradient = [sum(gradient[max(0, i - 8):i + 9]) / len(gradient[max(0, i - 8):i + 9]) for i in range(len(gradient))]

x = y = heading = 0.0
height, error = 432.0, 0.0
points = []
for i, (slope, k) in enumerate(zip(gradient, curvature)):
    if i % 5 == 0:
        error = 0.5 * error + 0.8 * dice.gauss(0, 1)
        points.append((x, y, height + error))
    heading += k * step_m
    x += step_m * math.sin(heading)
    y += step_m * math.cos(heading)
    height += slope * step_m

metres_a_degree = 111195.0
out = ['<?xml version="1.0" encoding="UTF-8"?>',
       '<gpx version="1.1" creator="make_route: an invented route" xmlns="http://www.topografix.com/GPX/1/1">',
       "<rte><name>Over the Ostrel pass (invented; the coordinates lie in open sea)</name>"]
for x, y, z in points:
    out.append('<rtept lat="%.5f" lon="%.5f"><ele>%.0f</ele></rtept>' %
               (-30.02 + y / metres_a_degree, -20.04 + x / (metres_a_degree * math.cos(math.radians(30))), z))
out += ["</rte>", "</gpx>", ""]
target = pathlib.Path(__file__).parent / "routes" / "over-ostrel.gpx"
target.write_text("\n".join(out), encoding="utf-8")
print(target.name, len(points), "points,", target.stat().st_size, "bytes")
