// The page's script is carried packed (RFC 1951, in letters): here it is taken out, and put where
// this stands. After the bits of each block: codes by their lengths, read one bit at a time.
const inflate = (from) => {
  const out = [];
  let at = 0, bit = 0, last = 0;
  const bits = (count) => {
    let value = 0;
    for (let n = 0; n < count; n++) {
      value |= ((from[at] >> bit) & 1) << n;
      if (++bit === 8) bit = 0, at++;
    }
    return value;
  };
  const codes = (lengths) => {
    const count = new Array(16).fill(0), next = [0, 0];
    for (const length of lengths) count[length]++;
    count[0] = 0;
    for (let n = 1; n < 15; n++) next.push(next[n] + count[n]);
    const symbols = [];
    lengths.forEach((length, symbol) => { if (length) symbols[next[length]++] = symbol; });
    return { count, symbols };
  };
  const symbol = ({ count, symbols }) => {
    let code = 0, first = 0, before = 0;
    for (let length = 1; length < 16; length++) {
      code |= bits(1);
      if (code - first < count[length]) return symbols[before + code - first];
      before += count[length];
      first = (first + count[length]) << 1;
      code <<= 1;
    }
  };
  const steps = (count, begin, every, skip) => { // of lengths and distances: [base, extra bits]
    const table = [];
    for (let n = 0, base = begin; n < count; n++) {
      const extra = Math.max(Math.floor(n / every) - skip, 0);
      table.push([base, extra]);
      base += 1 << extra;
    }
    return table;
  };
  const sizes = [...steps(28, 3, 4, 1), [258, 0]], ways = steps(30, 1, 2, 1);
  const ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];
  const fixed = () => [
    codes([...Array(288).keys()].map((n) => (n < 144 ? 8 : n < 256 ? 9 : n < 280 ? 7 : 8))),
    codes(Array(30).fill(5)),
  ];
  const stated = () => {
    const literals = bits(5) + 257, distances = bits(5) + 1, own = bits(4) + 4;
    const lengths = Array(19).fill(0);
    for (let n = 0; n < own; n++) lengths[ORDER[n]] = bits(3);
    const code = codes(lengths), all = [];
    while (all.length < literals + distances) {
      const read = symbol(code);
      if (read < 16) all.push(read);
      else {
        const value = read === 16 ? all[all.length - 1] : 0;
        const times = read === 16 ? 3 + bits(2) : read === 17 ? 3 + bits(3) : 11 + bits(7);
        for (let n = 0; n < times; n++) all.push(value);
      }
    }
    return [codes(all.slice(0, literals)), codes(all.slice(literals))];
  };
  while (!last) {
    last = bits(1);
    const kind = bits(2);
    if (!kind) {
      if (bit) bit = 0, at++;
      const size = from[at] | (from[at + 1] << 8);
      for (let n = 0; n < size; n++) out.push(from[at + 4 + n]);
      at += 4 + size;
      continue;
    }
    const [literal, distance] = kind === 1 ? fixed() : stated();
    for (let read = symbol(literal); read !== 256; read = symbol(literal)) {
      if (read < 256) { out.push(read); continue; }
      const [size, more] = sizes[read - 257];
      const length = size + bits(more);
      const [way, further] = ways[symbol(distance)];
      const back = way + bits(further);
      for (let n = 0; n < length; n++) out.push(out[out.length - back]);
    }
  }
  return new TextDecoder().decode(new Uint8Array(out));
};
// Bytes out of five letters for four of them, as `lettered` writes them.
const unlettered = (text) => {
  const out = new Uint8Array(text.length / 5 * 4);
  for (let i = 0, at = 0; i < text.length; at += 4) {
    let word = 0;
    for (const end = i + 5; i < end; i++) {
      const code = text.charCodeAt(i);
      word = word * 85 + (code === 120 ? 92 : code === 121 ? 60 : code) - 35;
    }
    out.set([word >>> 24, word >>> 16, word >>> 8, word], at);
  }
  return out;
};
