// An oiling plan touched on a photograph: a shape by what takes the oil.

import { PlaceList } from "./place_list.js";

const SHAPES = {
  cup: "M-10 -10H10V10H-10Z",
  felt: "M0 -14L13 10H-13Z",
  face: "M0 -14L14 0L0 14L-14 0Z",
  hole: "M-11 0A11 11 0 1 1 11 0A11 11 0 1 1 -11 0Z",
  "": "M-8 -8L8 8M8 -8L-8 8",
};

new PlaceList({
  called: "Place",
  asks: "say where it is",
  first: "place",
  onDraw(places) {
    places.rows.forEach((row, n) => {
      const at = places.placeOf(row);
      if (at) places.led(row, n, at, SHAPES[places.field(row, "kind").value] ?? SHAPES[""]);
    });
  },
}).begin();
