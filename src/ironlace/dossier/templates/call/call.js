"use strict";
// Composes the lines of a report out of the form. Nothing is sent: the mail program of the person
// who fills it in shows the mail before it goes.
(function () {
  const told = JSON.parse(document.getElementById("told").textContent);
  const form = document.getElementById("report");
  const quotes = { "’": "'", "‘": "'", "‚": "'", "‛": "'", "′": "'", "´": "'", "`": "'", "“": '"', "”": '"', "„": '"', "‟": '"', "″": '"', "…": "...", ">": "›", "<": "‹", "|": "/" };
  const longestLink = 1900; // signs of a link that every mail program takes

  function folded(text) {
    return text
      .replace(/\p{Cc}/gu, " ")
      .replace(/[\p{Cf}\p{Cs}\p{Co}]/gu, "")
      .normalize("NFC")
      .replace(/[’‘‚‛′´`“”„‟″…><|]/gu, (sign) => quotes[sign])
      .replace(/[-‐‑‒–—―−]+/gu, "-")
      .split(/\s+/u).filter(Boolean).join(" ")
      .replace(/\+(?=\s|$)/gu, "&");
  }

  function check(lines) {
    let sum = 0xffffffff;
    for (const byte of new TextEncoder().encode(lines.join("\n"))) {
      sum ^= byte;
      for (let bit = 0; bit < 8; bit += 1) sum = sum & 1 ? (sum >>> 1) ^ 0xedb88320 : sum >>> 1;
    }
    let number = (sum ^ 0xffffffff) >>> 0;
    let signs = "";
    for (let at = 0; at < 6; at += 1) {
      signs += told.signs[number % told.signs.length];
      number = Math.floor(number / told.signs.length);
    }
    return signs;
  }

  function composed() {
    const given = new FormData(form);
    const lines = [];
    for (const [field, label] of Object.entries(told.labels)) {
      const typed = field === "answers" ? told.answers : String(given.get(field) || "");
      const value = folded([...folded(typed)].slice(0, told.longest[field]).join(""));
      if (value) lines.push(`${label}: ${value}`);
    }
    return [told.begins, ...lines.map((line) => `+ ${line}`), told.ends.replace("{}", check(lines)), ""].join("\n");
  }

  const says = document.getElementById("says");
  const done = document.getElementById("done");
  const mail = document.getElementById("mail");
  const lines = document.getElementById("lines");
  const number = form.elements.namedItem("reads");
  let file = "";

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!folded(number.value)) {
      says.textContent = "Write how the number reads; put ? for what you cannot read.";
      number.setAttribute("aria-invalid", "true");
      number.focus();
      return;
    }
    number.removeAttribute("aria-invalid");
    const text = composed();
    const subject = encodeURIComponent(`Report of a machine: ${told.answers}`.slice(0, 120));
    const link = (body) => `mailto:${told.mail}?subject=${subject}&body=${encodeURIComponent(body.replace(/\n/g, "\r\n"))}`;
    const whole = link(text);
    const long = whole.length > longestLink;
    mail.href = long ? link("My report is in the file report.txt, which I attach.\n") : whole;
    says.textContent = long
      ? "Your report is long: save the file, open the mail, and attach the file and your photographs."
      : "Your report is ready. Open the mail, attach your photographs, look it over, and send it.";
    lines.textContent = text;
    if (file) URL.revokeObjectURL(file);
    file = URL.createObjectURL(new Blob([text], { type: "text/plain;charset=utf-8" }));
    document.getElementById("save").href = file;
    done.hidden = false;
    mail.focus();
  });
  form.addEventListener("input", () => {
    if (!done.hidden) says.textContent = "You changed something: press Make my report again.";
    done.hidden = true;
  });
  form.hidden = false;
})();
