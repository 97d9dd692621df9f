// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch lights SHOW: what would go out on a wire, where to, what not and why. Sends nothing and opens no socket.
#include "cmd/cmd.h"

#include "slowmatch/lights.h"

int cmd_lights(const cmd_command *self, int argc, char **argv) {
    const char *words[1], *interface = NULL, *to = NULL, *priority = NULL;
    const cmd_option options[] = {
        {"lights", "INTERFACE", "as it would be typed for the rehearsal", NULL, &interface},
        {"lights-to", "TO", "as it would be typed for the rehearsal", NULL, &to},
        {"lights-priority", "N", "as it would be typed for the rehearsal", NULL, &priority}};
    int count;
    sm_lights_options read;
    char why[SM_LIGHTS_WHY];
    int status =
        cmd_options_read(self, options, sizeof options / sizeof options[0], argc, argv, 1, 1, words, &count);
    if (status >= 0)
        return status;
    if (!cmd_lights_options_fit(interface, to, priority))
        return CMD_UNUSABLE;
    if (interface && sm_lights_options_read(interface, to, priority, &read, why) != SM_OK) {
        cmd_complain("--lights: %s", why);
        return CMD_UNUSABLE;
    }
    sm_show *show = cmd_show_open(words[0], NULL);
    if (!show)
        return CMD_UNUSABLE;
    sm_text out = {0};
    const sm_result result = sm_lights_plan(show, interface ? &read : NULL, true, &out);
    sm_text_printf(
        &out, "nothing is sent: lights are asked for in the console (--lights), and stated by a person\n");
    sm_show_destroy(show);
    if (result == SM_OK)
        return cmd_print(&out, CMD_GOOD);
    sm_text_deinit(&out);
    return cmd_failed(words[0], result);
}

bool cmd_lights_options_fit(const char *interface, const char *to, const char *priority) {
    if (interface && !to)
        cmd_complain("--lights needs --lights-to: where to, such as 10.9.0.2, 3=10.9.0.4 or multicast");
    else if (!interface && (to || priority))
        cmd_complain("--lights-to and --lights-priority need --lights INTERFACE");
    else
        return true;
    return false;
}
