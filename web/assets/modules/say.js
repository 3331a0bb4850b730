// t says a text with its values. The service puts the text into the language
// of the pages before it sends the script, so it stands here as one literal.
// {1|page|pages} goes by the number, in a translation by named plural forms.
const lang = document.documentElement.lang || "en";

function put(text, values) {
  return text.replace(/\{([1-9])((?:\|(?:[^{|}]|\{[1-9]\})+)*)\}/g, (_, n, words) => {
    const value = values[n - 1];
    if (!words) return value;
    const forms = words.slice(1).split("|");
    if (!forms[0].includes(":")) return put(forms[value === 1 ? 0 : forms.length - 1], values);
    const form = new Intl.PluralRules(lang).select(value);
    return put((forms.find((f) => f.startsWith(form + ":")) || forms.find((f) => f.startsWith("other:"))).replace(/^\w+:/, ""), values);
  });
}

export function t(text, ...values) { return put(text.split("##")[0], values); }
