// Asks the device for a passkey (WebAuthn) and sends its answer with the form around the button.
(function () {
  "use strict";
  if (!window.PublicKeyCredential?.parseRequestOptionsFromJSON) return;
  document.querySelector("[data-passkey-unable]")?.remove();
  for (const place of document.querySelectorAll("[data-passkey]")) {
    const [button, said] = place.children;
    const { form } = button;
    const { csrfmiddlewaretoken, passkey } = form.elements;
    place.hidden = false;
    button.addEventListener("click", async () => {
      // Before the device makes one, or a key without a name stays behind there.
      if (form.elements.name?.reportValidity() === false) return;
      button.disabled = true;
      said.textContent = "";
      try {
        const answer = await fetch(place.dataset.passkey, {
          method: "POST",
          headers: { "X-CSRFToken": csrfmiddlewaretoken.value },
        });
        const asked = await answer.json();
        const made = asked.user
          ? await navigator.credentials.create({
            publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(asked),
          })
          : await navigator.credentials.get({
            publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(asked),
          });
        passkey.value = JSON.stringify(made);
        form.submit();
      } catch {
        // Cancelled, too late, no passkey on this device, no answer from the book: the way is the same.
        said.textContent = place.dataset.failed;
        button.disabled = false;
      }
    });
  }
  // Back from the next page by the browser's own button: a passkey's answer is good once.
  window.addEventListener("pageshow", () => {
    for (const place of document.querySelectorAll("[data-passkey]")) {
      place.children[0].form.elements.passkey.value = "";
      place.children[0].disabled = false;
    }
  });
})();
