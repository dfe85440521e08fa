# The daemon, without compiler and tests, as an ordinary user.
#
#   docker build -t bywash .
#   docker run -v "$PWD/site.yaml:/etc/bywash/site.yaml:ro" -p 127.0.0.1:8470:8470 bywash
#
# Without a mounted file it runs the goat dairy's example with a broker of its own: nothing is
# connected to that broker, so every load stays off.
ARG NODE_IMAGE=node:20-bookworm-slim

FROM ${NODE_IMAGE} AS build
WORKDIR /app
COPY package.json package-lock.json .npmrc ./
RUN npm ci --ignore-scripts
COPY tsconfig.base.json tsconfig.build.json ./
COPY deploy/copy-assets.mjs deploy/build-dashboard.mjs deploy/
COPY config config
COPY service service
COPY simulator simulator
RUN npm run build && npm prune --omit=dev --ignore-scripts

FROM ${NODE_IMAGE}
WORKDIR /app
ENV NODE_ENV=production
# The C library otherwise keeps memory apart for each thread, and what was freed for later.
ENV MALLOC_ARENA_MAX=1 MALLOC_TRIM_THRESHOLD_=131072 MALLOC_MMAP_THRESHOLD_=131072
COPY LICENSE package.json ./
COPY --from=build /app/node_modules node_modules
COPY --from=build /app/dist dist
RUN mkdir -p /etc/bywash /var/lib/bywash \
 && cp dist/config/examples/malga.yaml /etc/bywash/site.yaml \
 && chown node:node /var/lib/bywash
USER node
VOLUME /var/lib/bywash
EXPOSE 8470
# /healthz fails when the last tick is too old, not only when the process is gone.
HEALTHCHECK --interval=10s --timeout=5s --start-period=20s --retries=3 \
  CMD ["node", "-e", "fetch('http://127.0.0.1:8470/healthz').then((r) => process.exit(r.ok ? 0 : 1), () => process.exit(1))"]
ENTRYPOINT ["node", "/app/dist/service/main.js"]
CMD ["serve", "--config", "/etc/bywash/site.yaml", "--set", "web.host=0.0.0.0", "--set", "web.tokenFile=/var/lib/bywash/web.token", "--set", "history.folder=/var/lib/bywash/history"]
