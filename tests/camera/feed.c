/* Plays a camera: opens a loopback node and writes one frame into it again and again.
 *
 *     feed NODE CODE WIDTH HEIGHT FILE [torn]
 *
 * CODE is RGB3, YUYV or MJPG; FILE holds exactly one frame. With `torn`, the second half of every seventh frame is missing. Ends when
 * it is killed.
 */
#include <fcntl.h>
#include <linux/videodev2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

static void fail(const char *what)
{
    perror(what);
    exit(1);
}

int main(int count, char **arguments)
{
    if (count < 6 || count > 7 || strlen(arguments[2]) != 4)
        return 2;
    const char *code = arguments[2];
    FILE *file = fopen(arguments[5], "rb");
    if (!file)
        fail(arguments[5]);
    fseek(file, 0, SEEK_END);
    size_t size = ftell(file);
    rewind(file);
    char *frame = malloc(size);
    char *torn = calloc(1, size);
    if (!frame || !torn || fread(frame, 1, size, file) != size)
        fail("read");
    memcpy(torn, frame, size / 2);

    int node = open(arguments[1], O_RDWR);
    if (node < 0)
        fail(arguments[1]);
    struct v4l2_format format = { .type = V4L2_BUF_TYPE_VIDEO_OUTPUT };
    format.fmt.pix.width = atoi(arguments[3]);
    format.fmt.pix.height = atoi(arguments[4]);
    format.fmt.pix.pixelformat = v4l2_fourcc(code[0], code[1], code[2], code[3]);
    format.fmt.pix.field = V4L2_FIELD_NONE;
    format.fmt.pix.colorspace = V4L2_COLORSPACE_SRGB;
    /* The largest frame: a JPEG is shorter. */
    format.fmt.pix.sizeimage = 3 * format.fmt.pix.width * format.fmt.pix.height;
    if (ioctl(node, VIDIOC_S_FMT, &format) < 0)
        fail("format");
    struct v4l2_streamparm rate = { .type = V4L2_BUF_TYPE_VIDEO_OUTPUT };
    rate.parm.output.timeperframe.numerator = 1;
    rate.parm.output.timeperframe.denominator = 30;
    if (ioctl(node, VIDIOC_S_PARM, &rate) < 0)
        fail("rate");
    for (unsigned number = 0;; number++) {
        if (write(node, count == 7 && number % 7 == 0 ? torn : frame, size) < 0)
            fail("write");
        usleep(33333);
    }
}
