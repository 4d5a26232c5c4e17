#include "tools/png.h"

#include <png.h>
#include <stdlib.h>

uint8_t *png_encode(const struct png_picture *p, size_t *n)
{
	png_image image = {
		.version = PNG_IMAGE_VERSION,
		.width = (png_uint_32)p->width, .height = (png_uint_32)p->height,
		.format = PNG_FORMAT_RGBA_COLORMAP, .colormap_entries = (png_uint_32)p->colours,
	};
	png_alloc_size_t size = PNG_IMAGE_PNG_SIZE_MAX(image);
	uint8_t *out = malloc(size);

	if (out && !png_image_write_to_memory(&image, out, &size, 0, p->index, 0, p->palette)) {
		free(out);
		out = NULL;
	}
	*n = out ? (size_t)size : 0;
	return out;
}
