"use strict";
// What every pixel of the grid is, unpacked once it is wanted: only a correction wants it.

const Maps = (() => {
  /** The packed bytes stand behind the scripts, so that the page answers before the browser has read them. */
  const wholePage = () => new Promise((done) => {
    if (document.readyState !== "loading") done();
    else document.addEventListener("DOMContentLoaded", done);
  });

  async function inflated(id) {
    const text = atob(Elements.byId(id).textContent), bytes = new Uint8Array(text.length);
    for (let i = 0; i < text.length; ++i) bytes[i] = text.charCodeAt(i);
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  }

  /** Labels and exclusions of an n x n grid, from runs of unsigned LEB128 (gap, length, value). */
  function unrolled(bytes, n, firstSpot) {
    const labels = new Int32Array(n * n), outside = new Uint8Array(n * n);
    let at = 0;
    const next = () => {
      let value = 0, shift = 0, byte;
      do {
        byte = bytes[at++];
        value |= (byte & 127) << shift;
        shift += 7;
      } while (byte > 127);
      return value;
    };
    for (let row = 0; row < n; ++row) {
      let x = row * n;
      for (let count = next(); count > 0; --count) {
        x += next();
        const end = x + next(), value = next();
        if (value < firstSpot) outside.fill(value, x, end);
        else labels.fill(value - firstSpot, x, end);
        x = end;
      }
    }
    return { labels, outside };
  }

  let loaded = null;

  /** {n, half, labels, outside, light, pits, luminance}: light codes and pits on every other pixel. */
  function load(island) {
    loaded ??= (async () => {
      await wholePage();
      const n = island.grid.size_px, half = (n + 1) >> 1;
      const [runs, light, pits] = await Promise.all([
        inflated("packed-runs"), inflated("packed-light"), inflated("packed-pits")]);
      const luminance = Float64Array.from({ length: 256 }, (_, code) => island.light_top * (code / 255) ** 3);
      return { n, half, light, pits, luminance, ...unrolled(runs, n, island.pixel_values.first_spot) };
    })();
    return loaded;
  }

  return { load };
})();
