#!/bin/sh
# Install the speech engines and voices on Debian, as root, into the Python environment that is active.
set -eu
here=$(cd "$(dirname "$0")" && pwd)

apt-get install -y espeak-ng flite festival festvox-kallpc16k festvox-kdlpc16k festvox-us-slt-hts
command -v npm >/dev/null || apt-get install -y npm
pip install -r "$here/requirements.txt"

# The English style vectors of Kokoro-82M come inside this package; nothing of its code is used.
styles=${KOKORO_STYLES:-$HOME/.cache/voicelog-corpora/kokoro-styles}
if [ ! -f "$styles/af_heart.bin" ]; then
    fetched=$(mktemp -d)
    (cd "$fetched" && npm pack --silent kokoro-js@1.2.1 >/dev/null)
    echo "1f0d0383ef0349af0bd9440d81dc12abbea3a5392eb645283eda876f537f5860  $fetched/kokoro-js-1.2.1.tgz" |
        sha256sum -c --quiet
    tar -xzf "$fetched/kokoro-js-1.2.1.tgz" -C "$fetched"
    mkdir -p "$styles"
    cp "$fetched"/package/voices/*.bin "$styles/"
    rm -r "$fetched"
fi
