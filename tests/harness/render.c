/* render: the chain, offline, through the real bundle. `render --help` tells how to use it. */
#include "rendering.h"

int main(int argc, char **argv)
{
    return render_run(argc, argv, stdout, stderr);
}
