// t says a text with its values. The service puts the text into the language
// of the pages before it sends the script, so it stands here as one literal.
export function t(text, ...values) { return text.replace(/\{(\d+)\}/g, (_, n) => values[n - 1]); }
