// Which sounds of files does the page carry, and when are they ready? A browser decodes them off the
// page's thread; they are asked for when they are first played.
const sampled = (() => {
  // The one channel of a file (FLAC, OGG) that was written into an element, at its own rate.
  const read = async (element, rate) => {
    const bytes = Uint8Array.from(atob(element.textContent), (c) => c.charCodeAt(0));
    const sound = await new OfflineAudioContext(1, 1, rate).decodeAudioData(bytes.buffer);
    return { wave: sound.getChannelData(0), rate };
  };
  // The sounds of a song; null where one cannot be read by this browser.
  const readAll = (elements, rates) =>
    Promise.all(rates.map((rate, row) => read(elements[row], rate).catch(() => null)));

  // What of a song's sound is played from files: {oneShot: {wave, rate, hz}, loops: turns in order}.
  const played = (song, read_) => {
    const { oneShot, loops } = song.data.sampled || { oneShot: null, loops: [] };
    const own = oneShot && read_[oneShot[0]];
    const turns = [];
    for (const [row, begins, speed, ticks] of loops) {
      if (!read_[row]) continue;
      for (const [start, end] of ticks) {
        turns.push({ ...read_[row], begins, speed, start: song.seconds(start), end: song.seconds(end) });
      }
    }
    return { oneShot: own ? { ...own, hz: oneShot[1] } : null, loops: turns };
  };
  return { readAll, played };
})();
