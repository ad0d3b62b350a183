// Numerals as the reader's country writes them. What is kept and sent has a
// decimal point.
"use strict";
const numeral = (() => {
  const tag = document.documentElement.dataset.notation || "en-US";
  const sign = new Intl.NumberFormat(tag).formatToParts(1.5).find((p) => p.type === "decimal").value;
  // words are English everywhere; the order of a date is the country's.
  const words = "en-" + tag.split("-").pop();
  const number = (n, digits) => new Intl.NumberFormat(tag, { maximumFractionDigits: digits, numberingSystem: "latn" }).format(n);
  return {
    sign,
    shown: (text) => String(text).replace(".", sign),
    plain: (text) => (sign === "," ? (/^\s*\d{1,3}(\.\d{3})+(,|\D*$)/.test(text) ? text.replaceAll(".", "") : text).replace(",", ".") : text),
    grouped: (text) => (/^\d+(\.\d+)?$/.test(text) ? number(text, 9) : text),
    number,
    moment: (t) => new Date(t).toLocaleString(words, { dateStyle: "medium", timeStyle: "short" }).replace(/[AP]M$/, (half) => half.toLowerCase()), // as the server writes
  };
})();
