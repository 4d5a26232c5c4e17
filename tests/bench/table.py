"""Prints what run.sh measured.

usage: table.py times FOLDER    medians over all rounds of FOLDER/{chain,liquid,scipy}.txt
       table.py counts FOLDER   instructions of FOLDER/callgrind.*, a look
"""
import re
import subprocess
import sys
from collections import Counter, defaultdict
from statistics import median, quantiles

RATE = 2.4e6
LOOKS = 128                     # BENCH_LEARNT in ground.h

AIR, FINE = ("air", "20"), ("fine", "20")

# what is printed, the contender's words, the hop and look whose bare transforms it is held against
ROWS = [
    ("20 ms looks, 1920 bins", None, None),
    ("bare FFTW in place, patient", ("patient", *AIR), AIR),
    ("bare FFTW in place, estimate", ("estimate", *AIR), AIR),
    ("bare FFTW out of place, patient: as in ours", ("patient-apart", *AIR), AIR),
    ("bare FFTW out of place, estimate", ("estimate-apart", *AIR), AIR),
    ("bytes to channel powers", ("look", *AIR), AIR),
    ("all of ear_listen, 240 channels of 8.33 kHz", ("listen", *AIR), AIR),
    ("  of it floor_learn and floor_judge", ("floor", *AIR), AIR),
    ("  of it detector_judge", ("judge", *AIR), AIR),
    ("the same in a quiet hop, 80 channels of 25 kHz", ("listen", "quiet", "20"), AIR),
    ("the same beside a strong broadcast station", ("listen", "broadcast", "20"), AIR),
    ("  of it detector_judge", ("judge", "broadcast", "20"), AIR),
    ("scipy.signal.welch", ("welch", "1920"), AIR),
    ("liquid-dsp spgramcf", ("spgramcf", "1920"), AIR),
    ("liquid-dsp firpfbch, 192 channels", ("firpfbch", "192"), AIR),
    ("20 ms looks, 3840 bins", None, None),
    ("bare FFTW in place, patient", ("patient", *FINE), FINE),
    ("bare FFTW in place, estimate", ("estimate", *FINE), FINE),
    ("bare FFTW out of place, patient: as in ours", ("patient-apart", *FINE), FINE),
    ("bare FFTW out of place, estimate", ("estimate-apart", *FINE), FINE),
    ("bytes to channel powers", ("look", *FINE), FINE),
    ("all of ear_listen, 793 channels of 2.5 kHz", ("listen", *FINE), FINE),
    ("  of it floor_learn and floor_judge", ("floor", *FINE), FINE),
    ("  of it detector_judge", ("judge", *FINE), FINE),
    ("scipy.signal.welch", ("welch", "3840"), FINE),
    ("liquid-dsp spgramcf", ("spgramcf", "3840"), FINE),
    ("10 ms looks, a stream without end", None, None),
    ("bytes to channel powers, 1920", ("look", "air", "10"), ("air", "10")),
    ("all of ear_listen, 1920", ("listen", "air", "10"), ("air", "10")),
    ("bytes to channel powers, 3840", ("look", "fine", "10"), ("fine", "10")),
    ("all of ear_listen, 3840", ("listen", "fine", "10"), ("fine", "10")),
    ("the invented town makes a look of 20 ms", None, None),
    ("quiet hop", ("town", "quiet", "20"), AIR),
    ("usual hop", ("town", *AIR), AIR),
    ("broadcast hop", ("town", "broadcast", "20"), AIR),
]


def read_times(folder):
    times = defaultdict(list)
    for name in "chain", "liquid", "scipy":
        with open("%s/%s.txt" % (folder, name)) as lines:
            for line in lines:
                *words, ns = line.split()
                times[tuple(words)].append(float(ns))
    return times


def ratio(times, words, other):
    """Median of the ratios of passes that ran in the same round, one after the other."""
    return median(a / b for a, b in zip(times[words], times[other]))


def print_times(folder):
    times = read_times(folder)
    heads = ("", "ns a", "middle", "times", "over", "over", "over", "over"), \
            ("", "sample", "half", "real time", "patient", "estimate", "own plan", "ours")
    for head in heads:
        print("%-50s %8s %7s %10s %9s %9s %9s %8s" % head)
    for title, words, hop in ROWS:
        if words is None:
            print(title)
            continue
        ns = median(times[words])
        low, _, high = quantiles(times[words], n=4)
        over = [ratio(times, words, (bare, *hop))
                for bare in ("patient", "estimate", "patient-apart", "look")]
        print("  %-48s %8.2f %6.0f%% %10.0f %9.2f %9.2f %9.2f %8.2f"
              % (title, ns, 100 * (high - low) / ns, 1e9 / RATE / ns, *over))
    print("middle half: how wide it is, of the median; %d passes each" % len(times[("look", *AIR)]))


def functions(path, inclusive):
    """Instructions by function; what is inside FFTW is one."""
    text = subprocess.run(["callgrind_annotate", "--threshold=100", "--auto=no",
                           "--inclusive=" + ("yes" if inclusive else "no"), path],
                          check=True, capture_output=True, text=True).stdout
    counts = Counter()
    for line in text.splitlines():
        found = re.match(r" *([\d,]+) \( *[\d.]+%\)  .*?:([^:\[]+) \[(.*)\]$", line)
        if not found:
            continue
        name = found[2].split("'")[0]
        if not inclusive and "libfftw" in found[3]:
            name = "FFTW"
        count = int(found[1].replace(",", ""))
        counts[name] = max(counts[name], count) if inclusive else counts[name] + count
    return counts


STAGES = ["ear_listen", "channeliser_look", "fftwf_execute", "floor_learn", "floor_judge",
          "detector_judge"]
PLANS = ["patient", "estimate", "patient-apart", "estimate-apart"]


def print_hop(folder, hop, bins):
    path = "%s/callgrind.%s" % (folder, hop)
    whole, own = functions(path, True), functions(path, False)
    bare = {plan: functions("%s/callgrind.%d-%s" % (folder, bins, plan), True)["bare_run"]
            for plan in PLANS}
    print("%-34s %12s %7s %9s %9s %9s"
          % ("%s, %d bins" % (hop, bins), "a look", "share", "/patient", "/estimate", "/own plan"))
    rows = [("bare, " + plan, count) for plan, count in bare.items()]
    rows += [(name, whole[name]) for name in STAGES]
    rows += [("  " + name, count) for name, count in own.most_common(14)]
    for name, count in rows:
        if name == "ear_listen":
            print("  stages, with what they call")
        if name == rows[len(PLANS) + len(STAGES)][0]:
            print("  by function, without what it calls")
        print("  %-32s %12.0f %6.1f%% %9.2f %9.2f %9.2f"
              % (name, count / LOOKS, 100 * count / whole["ear_listen"], count / bare["patient"],
                 count / bare["estimate"], count / bare["patient-apart"]))


def print_counts(folder):
    print("Instructions of a look of 20 ms, under callgrind (x86-64-v3, not v4)")
    for hop, bins in ("air", 1920), ("fine", 3840), ("broadcast", 1920):
        print_hop(folder, hop, bins)


{"times": print_times, "counts": print_counts}[sys.argv[1]](sys.argv[2])
