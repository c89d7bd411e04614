// Counting: each number is kept as soon as it is written; what could not be sent is sent again.

const unsent = new Set();

const say = (input, words) => {
  input.closest(".count-row").querySelector("[data-state]").textContent = words;
};

const keep = async (input) => {
  const form = input.form;
  const number = input.value.trim();
  if (!number) return;
  const data = new FormData();
  data.set("csrfmiddlewaretoken", form.querySelector('[name="csrfmiddlewaretoken"]').value);
  data.set(input.name, number);
  try {
    const response = await fetch(form.action, { method: "POST", body: data, headers: { "HX-Request": "true" }, credentials: "same-origin" });
    if (response.status === 422) {
      const wrong = (await response.json()).errors[input.name];
      input.setAttribute("aria-invalid", "true");
      unsent.delete(input);
      say(input, wrong);
    } else if (response.ok && !response.redirected) {
      input.removeAttribute("aria-invalid");
      if (input.value.trim() === number) unsent.delete(input);
      say(input, `kept ${new Date().toTimeString().slice(0, 5)}`);
    } else {
      throw new Error(String(response.status));
    }
  } catch {
    unsent.add(input);
    say(input, "Not kept yet. It is sent again.");
  }
};

const sendAgain = () => {
  for (const input of [...unsent]) keep(input);
};

document.addEventListener("change", (event) => {
  if (event.target.matches("[data-count]")) keep(event.target);
});

// A hand scanner types a code and Enter wherever one is: the last five characters, what stands before is the number.
const CODE = /^(\d{0,5})([0-9A-Z]{5})$/i;

const scanned = async (input) => {
  const found = /[a-z]/i.test(input.value) && CODE.exec(input.value.trim());
  if (!found) return false;
  input.value = found[1];
  await keep(input);
  location.assign(`${location.pathname}?code=${found[2].toUpperCase()}`);
  return true;
};

// Enter goes on to the next row, as one does on paper.
document.addEventListener("keydown", async (event) => {
  if (event.key !== "Enter" || !event.target.matches("[data-count]")) return;
  event.preventDefault();
  if (await scanned(event.target)) return;
  const all = [...document.querySelectorAll("[data-count]")];
  const next = all[all.indexOf(event.target) + 1];
  if (next) {
    next.focus();
    next.select();
  } else {
    event.target.blur();
  }
});

window.addEventListener("online", sendAgain);
setInterval(sendAgain, 5000);
window.addEventListener("beforeunload", (event) => {
  if (unsent.size) event.preventDefault();
});

document.querySelector(".count-asked")?.scrollIntoView({ block: "center" });
