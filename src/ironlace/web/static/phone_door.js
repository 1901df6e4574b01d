// Tells how the phone's door stands while its page is open; loads it anew when a phone has joined
// or the code has stopped counting, unless something is being typed.

const stands = document.querySelector("#door-stands");
const came = document.querySelector("#door-came");
let typed = false;
addEventListener("input", () => (typed = true));
// a reload now would undo the way to another page, or what was just sent
let leaving = false;
addEventListener("beforeunload", () => (leaving = true));

setInterval(async () => {
  if (document.hidden) return;
  let now;
  try {
    const answer = await fetch(stands.dataset.state, { headers: { accept: "application/json" } });
    now = await answer.json();
  } catch {
    return; // the bench has stopped; the next look tells
  }
  if (now.state !== stands.dataset.was && !typed && !leaving) location.reload();
  if (stands.textContent !== now.says) stands.textContent = now.says;
  if (came.textContent !== now.came) came.textContent = now.came;
}, 2000);
