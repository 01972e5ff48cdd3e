/* Prints each timecode frame that Debian's libltc finds in 8-bit sound on standard input: its label, drop flag,
 * the sample it begins at, and whether the polarity bit agrees with libltc's own. */
#include <ltc.h>
#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv) {
    if (argc < 3) return 2;
    int apv = atoi(argv[1]);
    enum LTC_TV_STANDARD standard = atoi(argv[2]) == 25 ? LTC_TV_625_50 : LTC_TV_525_60;
    LTCDecoder *decoder = ltc_decoder_create(apv, 64);
    ltcsnd_sample_t buffer[1024];
    LTCFrameExt frame;
    ltc_off_t at = 0;
    size_t read;
    while ((read = fread(buffer, 1, sizeof buffer, stdin)) > 0) {
        ltc_decoder_write(decoder, buffer, read, at);
        at += read;
        while (ltc_decoder_read(decoder, &frame)) {
            SMPTETimecode time;
            ltc_frame_to_time(&time, &frame.ltc, 0);
            LTCFrame again = frame.ltc;
            ltc_frame_set_parity(&again, standard);
            int same = again.biphase_mark_phase_correction == frame.ltc.biphase_mark_phase_correction
                && again.binary_group_flag_bit2 == frame.ltc.binary_group_flag_bit2;
            printf("%02d:%02d:%02d%c%02d %lld %d %d\n", time.hours, time.mins, time.secs,
                   frame.ltc.dfbit ? ';' : ':', time.frame, (long long)frame.off_start, same, frame.reverse);
        }
    }
    ltc_decoder_free(decoder);
    return 0;
}
