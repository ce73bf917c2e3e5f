// Tasks by what someone types: the id, or words of the title.

const MOST = 8;

// `offers`: [id, label] of each task. Tasks whose id begins with the text come first; otherwise each word must be in the label.
export function matching(offers, typed) {
  const text = typed.trim().toLowerCase();
  if (!text) return [];
  const words = text.split(/\s+/), byId = offers.filter(([id]) => id.toLowerCase().startsWith(text));
  const byWords = offers.filter((one) => !byId.includes(one) && words.every((word) => one[1].toLowerCase().includes(word)));
  return [...byId, ...byWords].slice(0, MOST);
}
