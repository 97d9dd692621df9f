// SPDX-License-Identifier: GPL-3.0-or-later
// libFuzzer's harness (make fuzz) over one reader, named by SLOWMATCH_READER. With SLOWMATCH_SEEDS, a folder, it writes that reader's
// seeds there and ends; with the reader "?" it prints their names.
#include "../support/readers.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerInitialize(int *argc, char ***argv);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

static size_t chosen;

static void write_seeds(const char *folder) {
    sm_text text = {0};
    for (size_t i = 0; readers_seed(chosen, i, &text); i++) {
        char path[512];
        snprintf(path, sizeof path, "%s/seed-%zu", folder, i);
        FILE *file = text.length ? fopen(path, "wb") : NULL;
        if (file && (fwrite(text.bytes, 1, text.length, file) != text.length || fclose(file) != 0))
            abort();
        sm_text_clear(&text);
    }
    sm_text_deinit(&text);
}

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    const char *name = getenv("SLOWMATCH_READER"), *folder = getenv("SLOWMATCH_SEEDS");
    const bool lists = !name || strcmp(name, "?") == 0;
    while (readers_name(chosen) && (lists || strcmp(readers_name(chosen), name) != 0)) {
        if (lists)
            puts(readers_name(chosen));
        chosen++;
    }
    if (!readers_name(chosen))
        exit(!lists);
    readers_begin();
    if (folder) {
        write_seeds(folder);
        readers_end();
        exit(0);
    }
    atexit(readers_end);
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    readers_take(chosen, (const char *)bytes, length);
    return 0;
}
