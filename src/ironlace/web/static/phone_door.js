// Tells how the phone's door stands while its page is open; loads it anew when a phone has joined
// or the code has stopped counting, unless something is being typed or it is being left.

const stands = document.querySelector("#door-stands");
const came = document.querySelector("#door-came");
// a reload would take away what is being typed or was just sent, or the way to another page
let busy = false;
for (const sign of ["input", "beforeunload"]) addEventListener(sign, () => (busy = true));

setInterval(async () => {
  if (document.hidden) return;
  let now;
  try {
    const answer = await fetch(stands.dataset.state, { headers: { accept: "application/json" } });
    now = await answer.json();
  } catch {
    return; // the bench has stopped; the next look tells
  }
  if (now.state !== stands.dataset.was && !busy) location.reload();
  if (stands.textContent !== now.says) stands.textContent = now.says;
  if (came.textContent !== now.came) came.textContent = now.came;
}, 2000);
