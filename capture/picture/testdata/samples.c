/* Prints the samples of a PNG as raw RGBA, straight alpha: 8 bits each, or big-endian 16 bits for a
 * PNG of that depth. Made pngsuite.sha256 with libpng, the reference decoder; see README.md. */
#include <png.h>
#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv)
{
	FILE *f = argc == 2 ? fopen(argv[1], "rb") : NULL;
	png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
	png_infop info = png ? png_create_info_struct(png) : NULL;

	if (f == NULL || info == NULL || setjmp(png_jmpbuf(png)))
		return 1;
	png_init_io(png, f);
	png_read_info(png, info);
	png_set_expand(png); /* palette to RGB, 1, 2 and 4 bits to 8, tRNS to alpha */
	png_set_gray_to_rgb(png);
	png_set_add_alpha(png, 0xffff, PNG_FILLER_AFTER);
	png_set_interlace_handling(png);
	png_read_update_info(png, info);

	size_t bytes = png_get_rowbytes(png, info), h = png_get_image_height(png, info);
	png_bytepp rows = malloc(h * sizeof *rows);
	for (size_t y = 0; y < h; y++)
		rows[y] = malloc(bytes);
	png_read_image(png, rows);
	for (size_t y = 0; y < h; y++)
		fwrite(rows[y], 1, bytes, stdout);
	return 0;
}
