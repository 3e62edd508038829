// A static host on this machine: serves a folder below a path, as a plain web server would.

import { createServer } from 'node:http';
import { readFile, stat } from 'node:fs/promises';
import { gzipSync } from 'node:zlib';
import { extname, join, normalize, resolve, sep } from 'node:path';

const TYPES = {
  '.css': 'text/css; charset=utf-8',
  '.csv': 'text/csv; charset=utf-8',
  '.html': 'text/html; charset=utf-8',
  '.jpg': 'image/jpeg',
  '.js': 'text/javascript; charset=utf-8',
  '.json': 'application/json',
  '.mjs': 'text/javascript; charset=utf-8',
  '.png': 'image/png',
  '.svg': 'image/svg+xml',
  '.txt': 'text/plain; charset=utf-8',
  '.webp': 'image/webp',
  '.woff2': 'font/woff2',
  '.xml': 'application/xml',
};

/**
 * Serves `site` below `base`, which starts and ends with a slash, on a free port of 127.0.0.1.
 * Texts are compressed for those who take it. Folders answer with their `index.html`, a folder
 * without its slash is sent to the one with it,
 * and what is missing answers 404 with the site's `404.html`.
 */
export async function serve(site, base) {
  const root = resolve(site);
  const server = createServer(async (request, response) => {
    const send = async (status, path) => {
      const body = await readFile(path);
      const type = TYPES[extname(path)] ?? 'application/octet-stream';
      const packs = /gzip/.test(request.headers['accept-encoding'] ?? '') && /text|json|xml|svg/.test(type);
      const coding = packs ? { 'content-encoding': 'gzip' } : {};
      response.writeHead(status, { 'content-type': type, ...coding }).end(packs ? gzipSync(body) : body);
    };
    try {
      const url = new URL(request.url, 'http://127.0.0.1');
      const asked = decodeURIComponent(url.pathname);
      // A browser asks the root of a host for this by itself; the guide is not at the root.
      if (asked === '/favicon.ico' && base !== '/') return response.writeHead(204).end();
      const path = normalize(join(root, asked.slice(base.length)));
      const inside = asked.startsWith(base) && (path === root || (path + sep).startsWith(root + sep));
      const found = inside ? await stat(path).catch(() => null) : null;
      if (found?.isDirectory() && !asked.endsWith('/')) {
        response.writeHead(301, { location: `${url.pathname}/${url.search}` }).end();
      } else if (found?.isDirectory()) {
        await send(200, join(path, 'index.html')).catch(() => send(404, join(root, '404.html')));
      } else if (found?.isFile() && !asked.endsWith('/')) {
        await send(200, path);
      } else {
        await send(404, join(root, '404.html'));
      }
    } catch (fault) {
      if (!response.headersSent) response.writeHead(500);
      response.end(String(fault));
    }
  });
  await new Promise((listening) => server.listen(0, '127.0.0.1', listening));
  const origin = `http://127.0.0.1:${server.address().port}`;
  return { origin, url: origin + base, close: () => server.close() };
}
