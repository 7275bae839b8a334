/* The input behind a button that takes files is named as the button is. */
(function () {
  "use strict";
  function name() {
    document.querySelectorAll("input[type=file]:not([aria-label])").forEach((input) => {
      input.setAttribute("aria-label", input.parentElement.textContent.trim() || "File");
    });
  }
  new MutationObserver(name).observe(document.documentElement, { childList: true, subtree: true });
})();
