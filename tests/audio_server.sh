#!/bin/sh
# A sound card made in user space, for the tests marked `audio`: what is played is what is recorded.
#
#   eval "$(sh tests/audio_server.sh start)"   starts it and sets PULSE_SERVER for this shell
#   sh tests/audio_server.sh stop              ends it
#
# Needs pulseaudio, pulseaudio-utils and libasound2-plugins (Debian). Without norewinds=1 the sink works
# in blocks of about 2 s, and streams stall.
set -eu
case "${1:-}" in
start)
  room=$(mktemp -d)
  chmod 700 "$room"
  export PULSE_RUNTIME_PATH="$room" PULSE_STATE_PATH="$room/state" PULSE_SERVER="unix:$room/native"
  mkdir -p "$PULSE_STATE_PATH"
  pulseaudio -n --daemonize=yes --exit-idle-time=-1 --log-target=file:"$room/log" \
    -L "module-native-protocol-unix auth-anonymous=1 socket=$room/native" \
    -L "module-null-sink sink_name=room rate=48000 channels=2 norewinds=1" >&2
  for _ in 1 2 3 4 5 6 7 8 9 10; do
    pactl info >/dev/null 2>&1 && break
    sleep 0.2
  done
  pactl set-default-sink room
  pactl set-default-source room.monitor
  echo "export PULSE_RUNTIME_PATH='$room' PULSE_STATE_PATH='$room/state' PULSE_SERVER='unix:$room/native'"
  ;;
stop)
  kill "$(cat "$PULSE_RUNTIME_PATH/pid")" 2>/dev/null || true
  rm -rf "$PULSE_RUNTIME_PATH"
  ;;
*)
  echo "usage: audio_server.sh start|stop" >&2
  exit 2
  ;;
esac
