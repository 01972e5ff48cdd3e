"""How long a speech synthesiser takes to read thirty paragraphs of invented narration, for tests/speaking.rs.
Read by espeak-ng 1.51 (Debian package espeak-ng), voice en-gb, at three set rates:

    apt-get install espeak-ng && python speaking.py > speaking.json

Silence before the first sound and after the last is not counted.
"""

import array
import json
import subprocess
import sys
import tempfile
import wave

RATES = [110, 150, 190]

TEXTS = """
Good evening, and welcome to the lake. Look to your left, above the far shore: that small light is the first of our
aircraft tonight, and it will be with us in less than a minute.

The engine gives 1,200 horsepower, and at 350 kt it crosses the whole of this bay in eleven seconds. Built in 1943,
rebuilt twice, it has flown more than 4,500 hours.

A level circle, now. In the turn the pilot weighs five times what you do, and has to turn the head to look for the
crowd. Watch the wing tips: on an evening as damp as this one, they draw white lines on the sky.

And now as slowly as the wing allows. At 105 kt the air only just carries it, and it is flown on the fingertips: a
little too slow and it falls, a little too fast and you would never know how slow it can be.

For sixty years a boat has gone out from this shore, whatever the weather, for whoever was on the water. Some of its
crews did not come back. The next pass is flown for those who go out, and those who went.

Ladies and gentlemen, boys and girls: please stay behind the line, keep your children close, and do not leave your
litter for somebody else. The marshals in orange are here to help you.

From your right, two aircraft at once. They will meet in front of you at a closing speed of 600 mph, a hundred feet
apart in height. Do not blink.

Up, over the top, and down again. The radius of a loop like this is about 400 m; the force at the bottom is five times
gravity, and for a moment at the top there is almost none at all.

She was the second of her type ever built, and the only one left. Volunteers found the fuselage in a barn, one wing in
a river and the other in a museum, and gave eleven winters of evenings and weekends to bring them together.

The commentary pauses here for the national anthem. Please stand if you are able.

Temperature and pressure change everything. On a cold day with high pressure the air is thick, the wings bite and the
engine breathes deeply; on a hot afternoon like today every take-off is longer, every climb is slower, and every pilot
does the sums again.

Thank you to our sponsors, to the fire service, to the ambulance crews and to the two hundred volunteers who have
been here since five o'clock this morning. Without them there would be no display.

Now the formation opens: eight aircraft become two groups of four, one going left and the other right. Remember where
they went, because they are coming back.

In October 1962 a young engineer sketched a wing on the back of an envelope. Three years and 17 days later it flew.
Nobody had asked for it, nobody had paid for it, and within ten years half the airlines of the world were using it.

Smoke on! Red, white and blue, from tanks of vegetable oil and dye beneath the wings. It is harmless, though I would
not wear a white shirt under it.

Look at the rudder, the big movable surface at the tail. In a knife-edge pass it does the work of the elevator, and
the body of the aircraft does the work of the wing.

The pilot tonight is a retired surgeon, a grandmother of three, and the national champion of 2019, 2021 and 2023. She
says the hardest part is the parking.

It is quiet now. That is not an accident. In that silence, one machine with one engine is climbing to 6,000 ft behind
you, and in a moment the engine will stop. What comes down is a glider that weighs a tonne and a half.

Fast. Very fast. Here it comes. And it has gone.

Ten minutes ago this helicopter was on standby for mountain rescue, and if the telephone rings it will leave us in the
middle of a sentence. The crew can be airborne in four minutes, and in the hills, in the dark, in the snow, that
matters.

Every figure you have seen was rehearsed first at a safe height, then lower, then lower again, until the display
authority was satisfied. Nothing here is improvised. Responsibility, repetition and honest criticism: those are the
three secrets of formation aerobatics.

The wind tonight is 240 degrees at 12 kt, the visibility more than 10 km, and the sun goes down at 20:15. You could
not ask for better.

Half a roll, hold it, hold it, hold it, and upright. A simple thing to write down; an extraordinary thing to do at
fifty feet above the water with the nose trying to fall and the blood running to your head.

My grandfather used to say that there is no such thing as a good landing, only a forgivable one. He was a careful man,
he was a lucky man, and he never told anybody which of the two had mattered.

Refreshments are available at the northern end of the field, toilets at the southern end, lost children at the
information tent, and lost parents, unfortunately, everywhere.

Imagine holding a bag of sugar at arm's length. Now imagine that it weighs nine times as much, and that you have to
write your name with it. That is what it is to fly this aeroplane accurately.

The last of the lanterns has been lit. If you look along the shore you can count them: one hundred and forty-four, one
for every person brought home.

We have a change to the programme. Because of low cloud over the hills the gliders will fly after the parachutists,
at approximately half past three, and the balloon launch has been cancelled.

A display like this is a conversation between people who cannot hear each other: the pilot, the music, the crowd and
the weather. Somebody has to listen to all four, and tonight, for once, it seems that they agree.

Good night, and thank you for coming. Drive carefully, take your rubbish home, and if you see somebody in overalls on
your way out, say thank you to them as well.
"""


def seconds(text, rate):
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        subprocess.run(["espeak-ng", "-v", "en-gb", "-s", str(rate), "-w", file.name, text], check=True)
        with wave.open(file.name) as sound:
            samples = array.array("h", sound.readframes(sound.getnframes()))
            heard = [i for i, sample in enumerate(samples) if abs(sample) > 100]
            return (heard[-1] - heard[0]) / sound.getframerate()


rows = []
for text in TEXTS.strip().split("\n\n"):
    text = " ".join(text.split())
    rows += [dict(text=text, rate=rate, seconds=round(seconds(text, rate), 3)) for rate in RATES]
json.dump(rows, sys.stdout, indent=1)
print()
