#include "tools/sheet.h"

const char *const sheet_how_to_read[] = {
	"Type a frequency as it stands under TYPE; then the display should show what stands under "
	"SHOWS. L: lock it out of the scan. P: priority. Tick [ ] when it is in. The names are "
	"guesses from the band plan unless you gave them.",
	"HEARD? is for your ear: yes, noise, or locked when you locked it out. Enter that under heard in "
	"plan.csv and plan again with --memories plan.csv: it is remembered, and tells what your set needs.",
	"SURE: sure is at least 10 overs in 5 exchanges (or always on), a median of 12 dB, and "
	"agreement on what it is; weak is a single exchange, or hardly over the noise; likely lies "
	"between. Faint is below 8 dB: hard to follow.",
	"Channels of 12.5 kHz sound quiet on a set that has one filter for all: turn it up.", NULL
};

const char *const sheet_cautions[] = {
	("Rules on receiving differ by country and service, some forbid certain services or a scanner in a "
	 "car. This sheet is no legal advice and cannot know yours: check local law."),
	"Never act on what you hear, never go there, never pass on, publish or stream it.",
	"Cellular, cordless and private telephones are never proposed; data is counted, never decoded.",
	"Keep this sheet and the survey to yourself: they tell when others talk.",
	"The dongle and its antenna are not your set and its antenna: let your ear decide.",
	NULL
};
