// What touches the machine, numbered on a photograph: a ring at each thing, its number beside it.

import { PlaceList } from "./place_list.js";

const RING = "M-11 0A11 11 0 1 1 11 0A11 11 0 1 1 -11 0Z";

new PlaceList({
  called: "Thing",
  asks: "say what it is",
  first: "thing",
  onDraw(places) {
    places.rows.forEach((row, n) => {
      const at = places.placeOf(row);
      if (at) places.led(row, n, at, RING);
    });
  },
}).begin();
