#include "ours.h"

#include <stdio.h>
#include <string.h>

enum { HEAD = 512 /* bytes of a text or page that have the mark in them */ };

void ours_mark(SNDFILE *file)
{
    sf_set_string(file, SF_STR_SOFTWARE, OURS_MARK);
}

/* libsndfile adds its own name and version. */
static bool is_marked_audio(const char *path)
{
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    const char *software = file ? sf_get_string(file, SF_STR_SOFTWARE) : NULL;
    const bool marked = software && !strncmp(software, OURS_MARK, sizeof OURS_MARK - 1);
    if (file)
        sf_close(file);
    return marked;
}

static bool is_marked_text(const char *head)
{
    return (head[0] == '<' || !strncmp(head, OURS_MARK, sizeof OURS_MARK - 1)) && strstr(head, OURS_MARK);
}

bool ours_is(const char *path)
{
    char head[HEAD + 1] = "";
    FILE *file = fopen(path, "rb");
    if (!file)
        return false;
    const size_t bytes = fread(head, 1, HEAD, file);
    const bool empty = !bytes && !ferror(file);
    fclose(file);
    return empty || is_marked_text(head) || is_marked_audio(path);
}
