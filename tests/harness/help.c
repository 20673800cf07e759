#include "options.h"

/* In pieces, as C promises no longer strings than of 4095 characters. */
static const char usage[] =
    "Runs a recorded vocal through the plug-ins of the bundle and writes a WAV.\n"
    "\n"
    "  render [--voice NAME] [--set PLUGIN.SYMBOL=VALUE]... [--stages LIST] [--repair auto] [--replace] "
    "[--report PAGE] [--like OTHER] TAKE... -o OUT\n"
    "  render --advise TAKE...\n"
    "  render --compare TAKE TAKE... [--report PAGE]\n"
    "\n"
    "A take is a WAV, AIFF, FLAC, Ogg, Opus or MP3 file, mono or stereo, at 8 to 384 kHz, or a pipe that someone\n"
    "writes to. Every plain name is a take. OUT is a WAV. For several takes OUT is a folder, made where it is "
    "missing,\n"
    "that gets a WAV of each take's name; one take goes into a folder where OUT is one or ends in a slash.\n"
    "\n"
    "No recording is ever written over. A file that is there is replaced only with --replace, only where render wrote\n"
    "it (it marks what it writes), and only when the new one is complete. A take is not replaced even then. A "
    "symbolic\n"
    "link stays, and its target is written.\n"
    "\n"
    "  -o OUT          where the result goes\n"
    "  --replace       replace files that are there, where render wrote them\n"
    "  --voice NAME    the presets of a voice, or the beginning of its name where that is enough: \"mezzo\".\n"
    "                  Without it, those of the range that Check hears; \"none\": the plug-ins' own defaults.\n"
    "                  Several takes are one singer's: they get the range heard in all of them, unless their own\n"
    "                  differ by more than neighbours; then each gets its own, and the table says so\n"
    "  --set P.S=VALUE set a control of a plug-in, after the presets: --set trim.target=-20\n"
    "                  --set \"compressor.even_loudness=as it comes\". --list shows all controls\n"
    "  --repair LIST   the repairs to put before the chain, in their own order, whatever the list's: hum, pops, "
    "ticks,\n"
    "                  floor, booth, rests, phrase, as many of them as the bundle has. \"auto\": those that Check "
    "asks\n"
    "                  for; \"none\": none. Without it the table says which would help. Phrase, put there, knows the "
    "whole take:\n"
    "                  each phrase gets one gain, which moves in rests alone and lifts none. As a stage, or on hold,\n"
    "                  it is what your host plays: it moves slowly, inside phrases too, and never in a rest. Hum, put\n"
    "                  there, follows the hum by what comes after a moment too, from the take's first sample on\n"
    "  --stages LIST   the plug-ins and their order. Without it: trim,tone,compressor,esses,plate\n"
    "  --together      learn one setting over all takes, so that verse and chorus keep their distance.\n"
    "                  Without it each take learns its own\n"
    "  --backing       the first take is a lead, and the others are doubles and harmonies under it. They get one\n"
    "                  setting: 8 LU under it, a higher low cut, esses caught earlier, more ambience. The table tells\n"
    "                  each difference\n"
    "  --apart         write voice and ambience as two aligned files, OUT-voice.wav and OUT-ambience.wav, that\n"
    "                  sum to the mix. The last plug-in has to have a dry and a wet level\n";

static const char results[] =
    "  --bits N        16, 24 or float: what the result is written in; 24 without it. What 16 and 24 bit round away\n"
    "                  becomes a steady noise (dither)\n"
    "  --rate HZ       the sample rate of the result, 8000 to 384000; without it, the take's. Loudness and peaks are\n"
    "                  measured after it\n"
    "  --name PATTERN  what the results are called, in OUT, then a folder: --name '{number}-{take}-{rate}'. Fields "
    "are\n"
    "                  {take}, the take's name without its ending; {number}, 1 for the first take; {voice}, as "
    "--voice\n"
    "                  has it; {rate}, in Hz; {bits}. The ending is .wav\n"
    "  --loudness N    bring the file to so many LUFS, as BS.1770 reads it, with its true peak at most at --peak\n"
    "  --peak N        the highest true peak with --loudness, -1 dBTP without it; alone: bring the file's to it.\n"
    "                  Loud files are loud: turn your monitors down first\n"
    "  --matched       also write the take at the mix's loudness, as long as the mix and of as many channels, to\n"
    "                  compare: MIX-before.wav. Its true peak stays at or under --peak, -1 dBTP without it; where "
    "that\n"
    "                  holds it back, the table says how far the mix has to be turned down for a fair comparison\n"
    "  --sheet         also write a text about each result, MIX.txt: what was done, every setting, loudness, true "
    "peak,\n"
    "                  length, and the command line that makes it again\n"
    "  --float         the same as --bits float\n"
    "  --jobs N        work on so many takes at a time, 1 to 64; without it, as many as there are processors. What\n"
    "                  is written is the same to the byte\n";

static const char besides[] =
    "  --bundle DIR    the bundle to use, instead of linctus.lv2 beside this program, or in ../lib/lv2 from there\n"
    "  --save-preset NAME\n"
    "                  also write NAME.lv2, a bundle with a preset of each plug-in, mono and stereo, that holds what\n"
    "                  was set and learned, on hold. Copy it to where your host looks for LV2, and the host lists\n"
    "                  NAME. For one take, or for several with --together\n"
    "  --install-preset\n"
    "                  write it into ~/.lv2, where your host finds it\n"
    "  --from-preset NAME\n"
    "                  the same singer, another song: the plug-ins of a saved preset, repairs too, with its\n"
    "                  controls, and all is learned anew. --stages and --repair go before it. NAME.lv2 lies here or\n"
    "                  in ~/.lv2\n"
    "  --like OTHER    make it like another vocal, an earlier mix of yours: OTHER's average colour by Tone (low cut,\n"
    "                  three dips, air), how far its level goes up and down by Compressor, its loudness. The table "
    "says\n"
    "                  how near it came and what is left. For one take; OTHER is never written to\n"
    "  --report PAGE   also write a page to look at and to print, as mix.html. It shows each take along the time with\n"
    "                  its faults, answers a few questions in a picture each, and plays before and after at one\n"
    "                  loudness. What it plays lies beside it: mix-before.flac and mix-after.flac\n"
    "  --report-audio  put what it plays into the page, which grows by some 10 MB a minute\n";

static const char more[] =
    "  --advise        write nothing; tell what Check finds in the takes and what to do about it, first at the\n"
    "                  source; which resonances Tone hears, and how deep a dip each is worth; what to set. With\n"
    "                  --together: one answer for all takes\n"
    "  --compare       write nothing; set takes of one song beside each other, phrase by phrase: level, noise, pops,\n"
    "                  clipping, tuning, and which was recorded cleanest there. With --report PAGE on a page too\n"
    "  --list          show voices, plug-ins and their controls\n"
    "  --help          show this text\n"
    "  --version       show which version this is\n"
    "  --              all that follows is a take, even if it begins with -\n"
    "\n"
    "Check listens to the take first. Then every plug-in runs twice. It listens to what the one before it made of the\n"
    "whole take (of all takes with --together) and learns. Then a fresh one gets what was learned and mixes on hold.\n"
    "So each learns from what it will really get. Where no stage learns and the voice is known, nobody listens.\n"
    "\n"
    "The mix lines up with the take to the sample: latency is taken off. After the take the reverb rings out, until\n"
    "it is under -100 dBFS. At the end a table tells what Check found, with an exclamation mark before each fault, "
    "and\n"
    "what each plug-in heard, set and did.\n"
    "During the run working copies of the audio, as long as the take, lie in OUT's folder, without a name.\n"
    "\n"
    "Exit status:\n"
    "   0  all is well                          7  no such plug-in\n"
    "   1  something inside broke               8  no such control\n"
    "   2  the command line is wrong            9  not a value for it\n"
    "   3  no such file, or no plain one       10  OUT or the table cannot be written\n"
    "   4  no audio that can be used           11  no bundle\n"
    "   5  empty audio                         12  stopped by a signal\n"
    "   6  no such voice                       13  done, but a take has no voice to learn from\n"
    "With 1 to 12 no file is written. One exception: where the table alone cannot be written, OUT is there, and the\n"
    "error says so.\n";

#ifndef LINCTUS_VERSION /* the Makefile has it */
#define LINCTUS_VERSION "of no version"
#endif

void options_version(FILE *to)
{
    fputs("Linctus render " LINCTUS_VERSION "\n", to);
}

void options_help(FILE *to)
{
    fputs(usage, to);
    fputs(results, to);
    fputs(besides, to);
    fputs(more, to);
}
