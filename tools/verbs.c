#include "tools/verbs.h"

/* Whatever reads a survey can be told which part of it. */
#define PART { "site" }, { "since" }, { "until" }, { "band" }, { "service" }
#define SET_SQUELCH { "squelch", "dB over the noise that open the set, 0 to 60; 6 when not given" }

/* For programs; csv shows the list named. */
#define FORMS(list) { "json" }, { "csv", "for a spreadsheet (RFC 4180): " list }, { "fields" }

/* Nothing here does anything: the manual and the completion are made from it on whatever computer
 * builds, without the libraries that the verbs work with. */
const struct command commands[VERBS] = {
	[VERB_STATUS] = {
		.name = "status", .words = "SURVEY", .ends = ".survey", .least = 1, .most = 1,
		.help = "what was looked at, when, and what went wrong",
		.example = "status night.survey",
		.takes = { { "squelch" }, PART, FORMS("its bands"), { "follow" }, { "every" } },
	},
	[VERB_CHANNELS] = {
		.name = "channels", .words = "SURVEY", .ends = ".survey", .least = 1, .most = 1,
		.help = "list what was heard, channel by channel",
		.example = "channels night.survey --squelch 10",
		.takes = { PART, { "squelch" }, { "min-overs" }, { "licences" },
			   FORMS("channels") },
	},
	[VERB_PLAN] = {
		.name = "plan", .words = "SURVEY --receiver FILE", .ends = ".survey", .least = 1, .most = 1,
		.help = "propose memories and search ranges",
		.example = "plan night.survey --receiver receiver-400.conf --output sheet",
		.takes = { { "receiver", .needed = true }, { "interests" }, { "licences" }, { "memories" }, PART,
			   SET_SQUELCH,
			   FORMS("the memories, as in plan.csv"),
			   { "output", "write plan.txt, plan.html (to print), plan.json and plan.csv there instead, and "
				"with --memories changes.csv" } },
	},
	[VERB_REPORT] = {
		.name = "report", .words = "SURVEY --output DIR", .least = 1, .most = 1,
		.help = "one page to look at: pictures, channels, plan",
		.example = "report night.survey --output page --receiver receiver-400.conf",
		.takes = { { "output", "write report.html there", .needed = true },
			   { "receiver", "profile of your set: the page then has its plan too" }, { "interests" },
			   { "licences" }, { "memories" }, PART, { "squelch" } },
	},
	[VERB_PICTURE] = {
		.name = "picture", .words = "SURVEY --output FILE|DIR", .ends = ".survey", .least = 1, .most = 1,
		.help = "a band over the night as a picture, time across, frequency down",
		.example = "picture night.survey --band air --output air.png",
		.takes = { { "output", "a PNG file for one band; else a folder, and a file for each band there", .needed = true },
			   PART, { "width" }, { "height" } },
	},
	[VERB_REHEARSE] = {
		.name = "rehearse", .words = "SURVEY --plan FILE --receiver FILE", .ends = ".survey", .least = 1, .most = 1,
		.help = "what a receiver typed full would hear of a survey",
		.example = "rehearse night.survey --plan sheet/plan.csv --receiver receiver-400.conf",
		.takes = { { "plan", .needed = true },
			   { "receiver", "profile of the set they are typed into", .needed = true }, { "banks" },
			   { "interests" },
			   PART, SET_SQUELCH,
			   FORMS("the sets of banks") },
	},
	[VERB_RASTERS] = {
		.name = "rasters", .words = "SURVEY", .ends = ".survey", .least = 1, .most = 1,
		.help = "whether the channels surveyed are those in use",
		.example = "rasters night.survey",
		.takes = { { "squelch", "dB over the noise from which an over counts, 0 to 60; 6 when not given" },
			   PART, FORMS("bands") },
	},
	[VERB_CHECK] = {
		.name = "check", .words = "FILE...", .least = 1, .most = 100000,
		.help = "whether settings, survey and licence files can be used",
		.exits = "0 all can be used, 1 failed, 2 one can't: it is damaged, or to be mended",
		.example = "check my.conf night.survey",
		.takes = { FORMS("files") },
	},
	[VERB_MERGE] = {
		.name = "merge", .words = "NEW SURVEY ...", .ends = ".survey", .least = 2, .most = 1000,
		.help = "make one survey of several nights, dongles or sites",
		.example = "merge all.survey monday.survey tuesday.survey",
		.takes = { { "json" }, { "fields" } },
	},
	[VERB_COMPARE] = {
		.name = "compare", .words = "FIRST SECOND", .ends = ".survey", .least = 2, .most = 2,
		.help = "what is new, gone, busier or quieter in a second survey",
		.example = "compare winter.survey summer.survey",
		.takes = { { "squelch" }, PART, FORMS("the differences") },
	},
	[VERB_RESCUE] = {
		.name = "rescue", .words = "SURVEY NEW", .ends = ".survey", .least = 2, .most = 2,
		.help = "save what can be read of a damaged survey into a new one",
		.exits = "0 nothing was lost, 1 something was, 2 no survey could be made of your input",
		.example = "rescue night.survey saved.survey",
		.takes = { { "json" }, { "csv", "for a spreadsheet (RFC 4180): its tables" }, { "fields" } },
	},
	[VERB_THIN] = {
		.name = "thin", .words = "SURVEY", .ends = ".survey", .least = 1, .most = 1,
		.help = "keep less of what is old, and give its room back to the disk",
		.more = "Ages count from the newest hour looked at, by whole days of UTC; what is not named is kept for ever.\n"
			"Runs, incidents and what was put to the proof stay. A survey that is being written is refused.\n",
		.example = "thin year.survey --keep-minutes \"30 d\" --keep-overs \"100 d\"",
		.takes = { { "keep-minutes" }, { "keep-strips" }, { "keep-overs" }, { "keep-hours" }, { "json" }, { "fields" } },
	},
	[VERB_SETUP] = {
		.name = "setup", .words = "", .least = 0, .most = 0,
		.help = "ask what a first night needs to know, and write the settings for it",
		.more = "Every question has an answer ready; options answer beforehand. What it would write is shown\n"
			"first: bandcensus.conf, bands.conf, interests.conf and receiver.conf. Without a terminal nothing\n"
			"is asked, and nothing written without --yes.\n",
		.example = "setup --region europe --interests \"rail 8, business 0\" --output mine --yes",
		.takes = { { "station" }, { "region" },
			   { "interests", "what differs from the usual weights, such as \"fire 10, rail 8\"" },
			   { "antenna" },
			   { "receiver", "100, 400 or 1000 memories as they usually are, mine to describe it, or a FILE" },
			   { "output", "folder for the files; this one when not given" }, { "yes" }, { "overwrite" } },
	},
	[VERB_HELP] = {
		.name = "help", .words = "[VERB]", .least = 0, .most = 1,
		.help = "these lines, or what a verb takes",
		.example = "help plan",
	},
};
