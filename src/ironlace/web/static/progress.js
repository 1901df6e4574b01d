// Follows a long job and shows how far it has come; when it has ended the page is asked for again.

const EVERY_MS = 700;
const root = document.querySelector("[data-progress]");
const bar = root.querySelector("progress");
const stage = root.querySelector("[data-stage]");

async function follow() {
  try {
    const response = await fetch(root.dataset.progress, { headers: { accept: "application/json" } });
    const job = await response.json();
    if (job.ended) {
      location.reload();
      return;
    }
    if (job.fraction !== undefined) bar.value = job.fraction;
    if (job.stage && stage.textContent !== job.stage) stage.textContent = job.stage;
  } catch {
    stage.textContent = "The bench does not answer; the work goes on when it runs again.";
  }
  setTimeout(follow, EVERY_MS);
}

follow();
