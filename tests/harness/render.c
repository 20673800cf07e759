/* render: the chain, offline, through the real bundle. `render --help` tells how to use it. */
#include "rendering.h"

#include <fcntl.h>

/* Where a standard stream is closed, the next file that is opened would take its place, and get the table. What cannot
 * be written to takes it instead. */
static void fill_standard_streams(void)
{
    for (int handle = 0; handle <= 2; ++handle)
        if (fcntl(handle, F_GETFD) < 0 && open("/dev/null", O_RDONLY) != handle)
            return;
}

int main(int argc, char **argv)
{
    fill_standard_streams();
    return render_run(argc, argv, stdout, stderr);
}
