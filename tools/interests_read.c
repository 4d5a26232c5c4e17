#include "tools/plan/interests.h"

#include "tools/plan/list.h"
#include "tools/profile.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const roles[] = { "voice", "loop", "nothing", NULL };

struct service_file {
	char   service[24], title[32], family[24];
	double weight;
	int    role;
};

struct interests_file {
	char         kind[16];
	struct rows  services, known;
	struct freqs pinned, never;
};

#define AT(f) offsetof(struct service_file, f)
static const struct field service_fields[] = {
	{ .name = "service", .type = FIELD_TEXT, .at = AT(service), .size = 24,
	  .help = "As the band plan names it." },
	{ .name = "title", .type = FIELD_TEXT, .at = AT(title), .size = 32, .preset = "",
	  .help = "What the sheet calls it." },
	{ .name = "bank", .type = FIELD_TEXT, .at = AT(family), .size = 24, .preset = "",
	  .help = "Services with the same word here share a bank." },
	{ .name = "weight", .type = FIELD_NUMBER, .at = AT(weight), .min = 0, .max = 10, .unit = "",
	  .help = "How much you want to hear it." },
	{ .name = "role", .type = FIELD_CHOICE, .at = AT(role), .choices = roles, .preset = "voice",
	  .help = "voice is scanned, loop is kept but locked, nothing is left out." },
	{ 0 }
};
#undef AT

#define AT(f) offsetof(struct known, f)
static const struct field known_fields[] = {
	{ .name = "frequency", .type = FIELD_FREQ, .at = AT(frequency), .min = 1e4, .max = 6e9,
	  .help = "One you know." },
	{ .name = "service", .type = FIELD_TEXT, .at = AT(service), .size = 24, .preset = "",
	  .help = "Whose it is." },
	{ .name = "name", .type = FIELD_TEXT, .at = AT(name), .size = 40, .preset = "",
	  .help = "What you call it." },
	{ 0 }
};
#undef AT

#define AT(f) offsetof(struct interests_file, f)
const struct field interests_fields[] = {
	{ .name = "kind", .type = FIELD_TEXT, .at = AT(kind), .size = 16,
	  .choices = (const char *const[]){ "interests", NULL },
	  .help = "interests: which services matter how much" },
	{ .name = "services", .type = FIELD_ROWS, .at = AT(services), .preset = "",
	  .size = sizeof(struct service_file),
	  .rows_of = service_fields, .help = "Services and how much you want to hear them." },
	{ .name = "known", .type = FIELD_ROWS, .at = AT(known), .preset = "",
	  .size = sizeof(struct known),
	  .rows_of = known_fields, .help = "Frequencies whose user you know." },
	{ .name = "pinned", .type = FIELD_FREQS, .at = AT(pinned), .preset = "",
	  .min = 1e4, .max = 6e9,
	  .help = "Frequencies that get a memory whatever was heard." },
	{ .name = "never", .type = FIELD_FREQS, .at = AT(never), .preset = "",
	  .min = 1e4, .max = 6e9,
	  .help = "Frequencies that never get one." },
	{ 0 }
};
#undef AT

/* Over the preset of the same service, or as a new one. */
static int take_service(const struct service_file *f, struct interests *out)
{
	struct interest *to = NULL;

	for (int i = 0; i < out->services; i++)
		if (strcmp(out->service[i].service, f->service) == 0)
			to = &out->service[i];
	if (!to) {
		if (list_room((void **)&out->service, out->services, sizeof *out->service) < 0)
			return -1;
		to = &out->service[out->services++];
		*to = (struct interest){ 0 };
		memcpy(to->service, f->service, sizeof to->service);
		snprintf(to->title, sizeof to->title, "%s", f->service);
		snprintf(to->family, sizeof to->family, "%s", f->service);
	}
	if (f->title[0])
		memcpy(to->title, f->title, sizeof to->title);
	if (f->family[0])
		memcpy(to->family, f->family, sizeof to->family);
	to->weight = f->weight;
	to->role = (enum role)f->role;
	return 0;
}

static void *copy(const void *at, int n, size_t size)
{
	void *to = malloc((size_t)n * size + 1);
	if (!to)
		return NULL;
	if (n)
		memcpy(to, at, (size_t)n * size);
	return to;
}

static int take(const struct interests_file *f, struct interests *out)
{
	const struct service_file *s = f->services.at;

	for (int i = 0; i < f->services.n; i++)
		if (take_service(&s[i], out) < 0)
			return -1;
	out->known = copy(f->known.at, f->known.n, sizeof *out->known);
	out->pinned = copy(f->pinned.at, f->pinned.n, sizeof *out->pinned);
	out->never = copy(f->never.at, f->never.n, sizeof *out->never);
	if (!out->known || !out->pinned || !out->never)
		return -1;
	out->knowns = f->known.n;
	out->n_pinned = f->pinned.n;
	out->n_never = f->never.n;
	return 0;
}

int interests_read(const char *path, struct interests *out, struct fault *why)
{
	struct interests_file f;

	if (profile_kind(path, "interests", why) < 0 ||
	    settings_read(path, interests_fields, &f, why) < 0)
		return -1;
	int result = interests_default(out);
	if (result == 0 && (result = take(&f, out)) < 0)
		interests_free(out);
	settings_free(interests_fields, &f);
	return result < 0 ? fault_set(why, FAULT_FATAL, "%s: no memory", path) : 0;
}
