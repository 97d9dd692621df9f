// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/audio.h"

#include <ltc.h>
#include <portaudio.h>
#include <rubberband/rubberband-c.h>
#include <samplerate.h>
#include <sndfile.h>
#include <string.h>

void sm_audio_libraries(sm_text *out) {
    const PaVersionInfo *port = Pa_GetVersionInfo();
    const char *rate = src_get_version(); // "libsamplerate-0.2.2 (c) ..."
    sm_text_printf(out, "%s, PortAudio %d.%d.%d, %.*s, Rubber Band %s, libltc %s", sf_version_string(),
                   port->versionMajor, port->versionMinor, port->versionSubMinor, (int)strcspn(rate, " "),
                   rate, RUBBERBAND_VERSION, LIBLTC_VERSION);
}
