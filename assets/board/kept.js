// What this browser keeps of what its user chose. Where that is forbidden, a choice holds for this page only.

const START = "tetherline ";
const here = {};

export function kept(name) {
  try {
    return localStorage.getItem(START + name) ?? here[name] ?? null;
  } catch (forbidden) {
    return here[name] ?? null;
  }
}

export function keep(name, value) {
  here[name] = value;
  try { localStorage.setItem(START + name, value); } catch (forbidden) { /* it holds for this page */ }
}

// Keys of one letter, digit or sign act until someone switches them off, as for speech input, which may press them by mistake.
const SINGLE_KEYS = "single-keys", OFF = "off";

export const singleKeysAct = () => kept(SINGLE_KEYS) !== OFF;
export const switchSingleKeys = () => keep(SINGLE_KEYS, singleKeysAct() ? OFF : "on");
