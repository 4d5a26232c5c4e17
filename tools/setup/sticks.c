#include "tools/setup/sticks.h"

#include <dirent.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

/* Realtek's numbers for the chip as it is and with its television firmware's name, as in Debian's
 * udev rule for it (rtl-sdr.rules, from memory). Sticks that go by a maker's own numbers are not
 * found here, but by the daemon. */
static const struct {
	const char *vendor, *product;
} chips[] = {
	{ "0bda", "2832" }, { "0bda", "2838" },
};

/* One line of a small file; "" when there is none. */
static void read_line(const char *folder, const char *device, const char *name, char out[64])
{
	char path[600];

	out[0] = '\0';
	if (snprintf(path, sizeof path, "%s/%s/%s", folder, device, name) >= (int)sizeof path)
		return;
	FILE *f = fopen(path, "re");
	if (!f)
		return;
	if (!fgets(out, 64, f))
		out[0] = '\0';
	out[strcspn(out, "\n")] = '\0';
	fclose(f);
}

static bool is_stick(const char *folder, const char *device)
{
	char vendor[64], product[64];

	read_line(folder, device, "idVendor", vendor);
	read_line(folder, device, "idProduct", product);
	for (size_t i = 0; i < sizeof chips / sizeof chips[0]; i++)
		if (strcmp(vendor, chips[i].vendor) == 0 && strcmp(product, chips[i].product) == 0)
			return true;
	return false;
}

int sticks_find(const char *folder, struct stick out[STICKS_MOST])
{
	DIR *d = opendir(folder);
	const struct dirent *e;
	int n = 0;

	while (d && n < STICKS_MOST && (e = readdir(d)))
		if (e->d_name[0] != '.' && is_stick(folder, e->d_name))
			read_line(folder, e->d_name, "serial", out[n++].serial);
	if (d)
		closedir(d);
	return n;
}
