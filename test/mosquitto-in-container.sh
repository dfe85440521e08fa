#!/bin/sh
# Mosquitto with its own arguments (-c FILE ...), in a container: the folder of FILE is mounted at
# the same path, and the network is the machine's, so that a test sees no difference.
# Ends with SIGTERM; a SIGKILL reaches only the client, test/run.mjs removes what it leaves.
set -eu
folder=$(dirname "$2")
exec docker run --rm --init --network host --user "$(id -u):$(id -g)" --label "bywash-test=${TEST_RUN_ID:-none}" \
  --volume "$folder:$folder" "${MOSQUITTO_IMAGE:-eclipse-mosquitto:2}" mosquitto "$@"
