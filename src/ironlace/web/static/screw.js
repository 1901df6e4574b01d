// The photograph of a screw, to look closely at; the answer comes from the form.

import { Picture } from "./picture.js";

new Picture(document.querySelector("[data-picture]"));
