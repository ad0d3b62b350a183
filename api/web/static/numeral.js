// Numerals as the reader's country writes them. What is kept and sent has a
// decimal point.

const tag = document.documentElement.dataset.notation || "en-US";

// Words are English everywhere; the order of a date is the country's.
const english = "en-" + tag.split("-").pop();

// sign parts the whole from the decimals.
export const sign = new Intl.NumberFormat(tag).formatToParts(1.5).find((part) => part.type === "decimal").value;

// shown writes a kept number for the reader.
export const shown = (text) => String(text).replace(".", sign);

// plain reads what the reader typed. Where the decimal sign is a comma, a point
// parts thousands if it can, and is else a decimal sign, too.
export function plain(text) {
  if (sign !== ",") return text;

  const hasThousands = /^\s*\d{1,3}(\.\d{3})+(,|\D*$)/.test(text);
  return (hasThousands ? text.replaceAll(".", "") : text).replace(",", ".");
}

// number writes a number with its thousands set off and at most so many digits
// behind the decimal sign.
export const number = (value, digits) =>
  new Intl.NumberFormat(tag, { maximumFractionDigits: digits, numberingSystem: "latn" }).format(value);

// grouped sets off the thousands of a kept number; other text stays as it is.
export const grouped = (text) => (/^\d+(\.\d+)?$/.test(text) ? number(text, 9) : text);

// moment writes a day and a time as the server does, with "am" and "pm" small.
export const moment = (time) =>
  new Date(time)
    .toLocaleString(english, { dateStyle: "medium", timeStyle: "short" })
    .replace(/[AP]M$/, (half) => half.toLowerCase());
