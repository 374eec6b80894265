// Draws nothing: tells Python how many taps on this device still wait to be saved, so that nothing is signed over them.

export default function ({ data, setStateValue }) {
  if (waiting() !== data.waiting) setStateValue("waiting", waiting());
}
