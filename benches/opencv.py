"""Reads a photo the plain way, for comparison: `python benches/opencv.py PHOTO`, or `--threads 1 PHOTO`.

The steps are those of `tintpoint read`, each with the nearest call of OpenCV and NumPy: decode; reduce; find circles, their rims and a
rectangular grey card; take medians in linear light; balance on the card; and fit fraction, dose, light and tone of each cup over
a grid of lights and cameras with a two-form dye. What it says is not checked: it is here to be timed, whole process from start to answer.
Needs `opencv-python-headless` and `numpy`; neither is needed for anything else.
"""

import argparse

import cv2
import numpy as np

LONGEST = 700
ANGLES = np.linspace(0, 2 * np.pi, 64, endpoint=False)


def linear(encoded):
    """IEC 61966-2-1."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def cups(small):
    """Circles whose inside is even and whose ring outside is brighter."""
    grey = cv2.medianBlur(cv2.cvtColor(small, cv2.COLOR_BGR2GRAY), 5)
    found = []
    for least, most in [(8, 20), (20, 50), (50, 120)]:
        circles = cv2.HoughCircles(grey, cv2.HOUGH_GRADIENT, 1.5, 2 * least, param1=120, param2=40, minRadius=least, maxRadius=most)
        for x, y, r in [] if circles is None else circles[0][:12]:
            ring = [grey[int(np.clip(y + 1.25 * r * np.sin(a), 0, grey.shape[0] - 1)), int(np.clip(x + 1.25 * r * np.cos(a), 0, grey.shape[1] - 1))] for a in ANGLES]
            if np.median(ring) > grey[int(min(y, grey.shape[0] - 1)), int(min(x, grey.shape[1] - 1))] + 10:
                found.append((x, y, r))
    kept = []
    for x, y, r in sorted(found, key=lambda c: -c[2]):
        if all(np.hypot(x - a, y - b) > r + c for a, b, c in kept):
            kept.append((x, y, r))
    return kept


def card(small, circles):
    """The largest nearly neutral four-cornered outline that holds no cup."""
    edges = cv2.dilate(cv2.Canny(cv2.GaussianBlur(small, (5, 5), 0), 30, 90), None)
    outlines, _ = cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    best = None
    for outline in outlines:
        corners = cv2.approxPolyDP(outline, 0.03 * cv2.arcLength(outline, True), True)
        area = cv2.contourArea(corners)
        if len(corners) != 4 or not 0.005 < area / small[:, :, 0].size < 0.4 or not cv2.isContourConvex(corners):
            continue
        if any(cv2.pointPolygonTest(corners, (float(x), float(y)), False) > 0 for x, y, _ in circles):
            continue
        if best is None or area > best[0]:
            best = (area, corners.reshape(4, 2))
    return None if best is None else best[1]


def median(photo, mask_of, x, y, reach):
    """Median colour in linear light where a mask holds, in the photo itself."""
    left, top = max(int(x - reach), 0), max(int(y - reach), 0)
    part = photo[top : int(y + reach) + 1, left : int(x + reach) + 1]
    v, u = np.mgrid[0 : part.shape[0], 0 : part.shape[1]]
    chosen = part[mask_of(u + left - x, v + top - y)]
    return linear(np.median(chosen, axis=0)[::-1] / 255.0)


def fit(liquid, white):
    """Base fraction and dose over lights and tone exponents: bands as Gaussian curves of wavelength, three broad channels."""
    nm = np.arange(400.0, 701.0, 10.0)
    band = lambda peak, width: np.exp(-0.5 * ((nm - peak) / width) ** 2)
    acid, base = 0.45 * band(430, 42), band(589, 30) + 0.15 * band(550, 30)
    channels = np.stack([band(600, 35), band(540, 38), band(455, 30)])
    fractions, doses = np.linspace(0, 1, 60), np.geomspace(0.1, 5, 40)
    density = doses[:, None, None] * (fractions[:, None] * base + (1 - fractions[:, None]) * acid)
    through = 10.0**-density
    target = np.log(np.clip(liquid / white, 1e-4, None))
    answers = []
    for warmth in np.linspace(-2.5, 2.5, 21):
        light = np.exp(warmth * (nm - 550) / 300)
        seen = channels * light
        colour = through @ (seen / seen.sum(axis=1, keepdims=True)).T
        for tone in np.linspace(0.8, 1.2, 9):
            cost = ((tone * np.log(colour) - target) ** 2).sum(axis=2) / 0.02**2 + (warmth / 1.0) ** 2 + ((tone - 1) / 0.1) ** 2
            at = np.unravel_index(cost.argmin(), cost.shape)
            answers.append((cost[at], fractions[at[1]]))
    costs, fraction = np.array(answers).T
    weights = np.exp(-0.5 * (costs - costs.min()))
    return float((weights * fraction).sum() / weights.sum())


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--threads", type=int, default=0)
    options.add_argument("photo")
    told = options.parse_args()
    if told.threads:
        cv2.setNumThreads(told.threads)
    photo = cv2.imread(told.photo)
    factor = -(-max(photo.shape[:2]) // LONGEST)
    small = cv2.resize(photo, None, fx=1 / factor, fy=1 / factor, interpolation=cv2.INTER_AREA)
    circles = cups(small)
    corners = card(small, circles)
    balance = np.ones(3)
    if corners is not None:
        x, y = corners.mean(axis=0) * factor
        reach = 0.25 * factor * np.ptp(corners, axis=0).min()
        balance = median(photo, lambda u, v: np.hypot(u, v) <= reach, x, y, reach) / 0.18
    for x, y, r in circles:
        x, y, r = factor * x, factor * y, factor * r
        liquid = median(photo, lambda u, v: np.hypot(u, v) <= 0.7 * r, x, y, 0.7 * r)
        white = median(photo, lambda u, v: (np.hypot(u, v) > 1.15 * r) & (np.hypot(u, v) < 1.3 * r), x, y, 1.3 * r)
        fraction = fit(liquid / balance, white / balance)
        print(f"circle at {x:.0f},{y:.0f}: base fraction {fraction:.2f}")
    print("card" if corners is not None else "no card")


main()
