// SPDX-License-Identifier: GPL-3.0-or-later
// The reader of plain XML against expat: what it takes expat takes, and both tell of the same elements, attributes and texts.
#include "import/plain_xml.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <expat.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// What was told of a document, in its order.
typedef struct account {
    sm_text text;
    bool is_in_text;
} account;

static void put_begin(void *context, const char *name, const char **attributes) {
    account *const a = context;
    a->is_in_text = false;
    sm_text_printf(&a->text, "\n+%s", name);
    for (; *attributes; attributes += 2) {
        sm_text_printf(&a->text, " %s=", attributes[0]);
        sm_text_append_json(&a->text, attributes[1]);
    }
}

static void put_end(void *context, const char *name) {
    account *const a = context;
    a->is_in_text = false;
    sm_text_printf(&a->text, "\n-%s", name);
}

static void put_text(void *context, const char *text, int length) {
    account *const a = context;
    if (!a->is_in_text && length > 0)
        sm_text_append(&a->text, "\n:", 2);
    a->is_in_text = a->is_in_text || length > 0;
    sm_text_append(&a->text, text, (size_t)length);
}

static bool read_by_expat(const char *bytes, size_t length, account *out) {
    XML_Parser parser = XML_ParserCreate(NULL);
    assert_non_null(parser);
    XML_SetUserData(parser, out);
    XML_SetElementHandler(parser, put_begin, put_end);
    XML_SetCharacterDataHandler(parser, put_text);
    const bool is_read = XML_Parse(parser, bytes, (int)length, 1) == XML_STATUS_OK;
    XML_ParserFree(parser);
    return is_read;
}

// In pieces of STEP bytes, each in memory of its own size, so that the sanitizers see what lies behind it.
static bool read_plainly(const char *bytes, size_t length, size_t step, account *out) {
    import_book book = {0};
    plain_xml xml = {.book = &book, .context = out, .begin = put_begin, .end = put_end, .text = put_text};
    char *kept = NULL;
    size_t count = 0, at = plain_xml_start(bytes, length);
    if (at == SIZE_MAX)
        return false;
    for (bool is_last = false; !is_last && !book.why;) {
        const size_t got = length - at < step ? length - at : step;
        char *const wider = malloc(count + got + 1);
        if (count > 0)
            memcpy(wider, kept, count);
        memcpy(wider + count, bytes + at, got);
        free(kept);
        kept = wider;
        at += got;
        count += got;
        is_last = got == 0;
        const size_t taken = plain_xml_take(&xml, kept, count, is_last);
        count -= taken;
        memmove(kept, kept + taken, count);
    }
    free(kept);
    return !book.why;
}

// Whether it was taken; if so, expat took it and told the same.
static bool hold(const char *bytes, size_t length, size_t step) {
    account ours = {0}, theirs = {0};
    const bool is_read = read_plainly(bytes, length, step, &ours);
    if (is_read) {
        if (!read_by_expat(bytes, length, &theirs))
            fail_msg("expat refuses: %.*s", (int)length, bytes);
        assert_string_equal(sm_text_get(&ours.text), sm_text_get(&theirs.text));
    }
    sm_text_deinit(&ours.text);
    sm_text_deinit(&theirs.text);
    return is_read;
}

static const char *const sound[] = {
    "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\r\n<worksheet xmlns=\"urn:a\" "
    "xmlns:r=\"urn:b\"><sheetData>"
    "<row r=\"1\" spans=\"1:7\"><c r=\"A1\" s=\"1\" t=\"s\"><v>0</v></c><c "
    "r=\"B1\"/></row></sheetData></worksheet>",
    "\xEF\xBB\xBF<?xml version='1.0'?><a b = 'x>y' c=\"it's\"\n\td='\"'>a &lt;b&gt; &amp; &quot;c&quot; "
    "&apos;d&apos;</a >",
    "<!-- before -->\n<?app do this?><si><t xml:space=\"preserve\"> caf\xC3\xA9 &#233;&#xE9;&#x1F525; "
    "</t>\r\n</si><!--behind-->\n",
    "<a><![CDATA[<b>&lt;]]]]><![CDATA[>]]></a>",
    "<a x='1&#10;2\r\n3\t4&#9;'>one\r\ntwo\rthree&#13;\n]] ></a>",
    "<office:document-content><table:table-cell office:value-type=\"float\" "
    "office:value=\"3\"><text:p>3</text:p></table:table-cell>"
    "<x/><y /><!-- a - b --></office:document-content>",
    "<a>\xF0\x9F\x94\xA5\xED\x9F\xBF\xEE\x80\x80\xEF\xBF\xBD\x7F</a>",
};

enum { SOUND = sizeof sound / sizeof sound[0] };

static void sound_documents_are_taken_in_pieces_of_any_size(void **unused) {
    (void)unused;
    for (size_t i = 0; i < SOUND; i++)
        for (size_t step = 1; step < 80; step++)
            assert_true(hold(sound[i], strlen(sound[i]), step));
}

// Not well-formed by XML 1.0, or of what plain XML leaves to expat: the section that says so, read in the recommendation's fifth edition from memory.
static const char *const unsound[] = {
    "",
    "<a>",
    "<a></b>",
    "<a></a><b></b>", // 2.1: one root
    "text<a></a>",
    "<a></a>text",
    "<a b='1' b='2'/>", // 3.1
    "<a b='1'c='2'/>",
    "<a b=1/>",
    "<a b='<'/>",
    "<a b/>",
    "<1/>",
    "< a/>",
    "<a></ a>",
    "<a>&nbsp;</a>", // 4.1: not declared
    "<a>&lt</a>",
    "<a>& </a>",
    "<a>&#0;</a>", // 2.2
    "<a>&#x;</a>",
    "<a>&#xD800;</a>",
    "<a>&#xFFFE;</a>",
    "<a>&#x110000;</a>",
    "<a>&#99999999999999999999;</a>",
    "<a>\x01</a>",
    "<a>\xFF</a>",
    "<a>\xED\xA0\x80</a>",
    "<a>\xEF\xBF\xBF</a>",
    "<a>\xC3</a>",
    "<a>]]></a>",         // 2.4
    "<a><!-- -- --></a>", // 2.5
    "<a><!-- a ---></a>",
    "<a><?xml version='1.0'?></a>", // 2.6
    "<a><?XmL b?></a>",
    "<a><?\?></a>",
    "<![CDATA[x]]><a/>",
    "<a><![CDATA[x]></a>",
    "<a><!ELEMENT b></a>",
    "<a",
    "<a b='x",
    "<a/ >",
    "<?xml encoding='UTF-8'?><a/>",
    "<?xml version='1.0' standalone='YES'?><a/>",
    "<?xml version='1.0' standalone='no' encoding='UTF-8'?><a/>",
    "<?xml version='1.0' encoding='UTF-16'?><a/>",
    "<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>",
};

static void what_is_not_well_formed_is_refused(void **unused) {
    (void)unused;
    for (size_t i = 0; i < sizeof unsound / sizeof unsound[0]; i++)
        for (size_t step = 1; step < 60; step += 7)
            if (hold(unsound[i], strlen(unsound[i]), step))
                fail_msg("taken: %s", unsound[i]);
}

static void deep_and_long_ones_are_refused(void **unused) {
    (void)unused;
    sm_text text = {0};
    for (size_t i = 0; i <= IMPORT_DEPTH_MAX; i++)
        sm_text_printf(&text, "<a>");
    for (size_t i = 0; i <= IMPORT_DEPTH_MAX; i++)
        sm_text_printf(&text, "</a>");
    assert_false(hold(sm_text_get(&text), text.length, 1000));
    assert_true(hold(sm_text_get(&text) + 3, text.length - 7, 1000));
    sm_text_clear(&text);
    sm_text_printf(&text, "<a");
    for (size_t i = 0; i < PLAIN_ATTRIBUTES_MAX; i++)
        sm_text_printf(&text, " b%zu='%zu'", i, i);
    sm_text_printf(&text, "/>");
    assert_true(hold(sm_text_get(&text), text.length, 1000));
    text.length -= 2;
    sm_text_printf(&text, " c=''/>");
    assert_false(hold(sm_text_get(&text), text.length, 1000));
    sm_text_deinit(&text);
}

static uint64_t state;

static unsigned draw(unsigned below) {
    state = state * 6364136223846793005u + 1442695040888963407u; // Knuth's MMIX
    return (unsigned)(state >> 33) % below;
}

// Damages a sound document: bytes changed, doubled, dropped, pieces of markup put in.
static void damage(sm_text *text) {
    static const char *const pieces[] = {
        "<",  ">",  "/",         "&",    ";",     "'",    "\"",   "=",  " ",  "]]>",  "--",    "<!--", "-->",
        "<?", "?>", "<![CDATA[", "&lt;", "&#65;", "<b/>", "</a>", "\r", "\n", "\xC3", "xmlns", "<?xml"};
    sm_text out = {0};
    const size_t at = draw((unsigned)text->length), gone = draw(3) == 0 ? draw(4) : 0;
    const size_t rest = at + gone < text->length ? at + gone : text->length;
    sm_text_append(&out, text->bytes, at);
    if (draw(3) > 0)
        sm_text_printf(&out, "%s", pieces[draw(sizeof pieces / sizeof pieces[0])]);
    else
        sm_text_append(&out, (const char[]){(char)draw(256)}, 1);
    sm_text_append(&out, text->bytes + rest, text->length - rest);
    sm_text_deinit(text);
    *text = out;
}

static void damaged_documents_are_read_as_expat_reads_them(void **unused) {
    (void)unused;
    const unsigned rounds = getenv("SLOWMATCH_SOAK") ? 400000 : 20000;
    unsigned taken = 0, stricter = 0;
    for (unsigned n = 0; n < rounds; n++) {
        state = n * 7919 + 1;
        sm_text text = {0};
        account theirs = {0};
        sm_text_printf(&text, "%s", sound[draw(SOUND)]);
        for (unsigned k = 1 + draw(2); k > 0; k--)
            damage(&text);
        const bool is_read = hold(text.bytes, text.length, 1 + draw(200));
        taken += is_read;
        stricter += !is_read && read_by_expat(text.bytes, text.length, &theirs);
        sm_text_deinit(&text);
        sm_text_deinit(&theirs.text);
    }
    print_message("%u damaged documents: %u taken, as expat tells them; %u that expat takes are refused\n",
                  rounds, taken, stricter);
    assert_true(taken > rounds / 20);
    assert_true(stricter < rounds / 50); // names in other letters than ASCII's, other declarations
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_documents_are_taken_in_pieces_of_any_size),
        cmocka_unit_test(what_is_not_well_formed_is_refused),
        cmocka_unit_test(deep_and_long_ones_are_refused),
        cmocka_unit_test(damaged_documents_are_read_as_expat_reads_them),
    };
    return cmocka_run_group_tests_name("import xml", tests, NULL, NULL);
}
