package sequence_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence"
)

// Sentences as versions before codes wrote them, by hand: they stand in stores.
func TestRecallOfEverySentence(t *testing.T) {
	seen := map[sequence.Code]bool{}
	check := func(t *testing.T, want string, all ...sequence.Said) {
		var got []string
		for _, s := range all {
			if s.Code != "" {
				seen[s.Code] = true
				got = append(got, strings.Join(append([]string{string(s.Code)}, s.Args...), "|"))
			}
		}
		assert.Equal(t, want, strings.Join(got, " + "))
	}
	for place, want := range map[string]string{
		"key 7 (R3-C1)":                                 "key|7|R3|C1",
		"between R3 (pin 3) and R4 (pin 4)":             "lines|R3|3|R4|4",
		"between lines, at rest":                        "some lines|rest",
		"while key 7 (R3-C1) was held":                  "while held|7|R3|C1",
		"R3 (pin 3) and R4 (pin 4) have changed places": "changed places|R3|3|R4|4",
		"line R3 open between pin 3 and its first key":  "before first key|R3|3",

		"R3 (pin 3) and C2 (pin 7) while key 7 (R3-C1) is held":                                   "lines while held|R3|3|C2|7|7|R3|C1",
		"R3 (pin 3) and R4 (pin 4) when a key was pressed; no key joins them":                     "lines of no key|R3|3|R4|4",
		"line R3 broken between keys 7 and 8, tail side good":                                     "between keys|R3|7|8",
		"line R3 has about 400 ohm more before its first key, from pin 3 on":                      "more before first|R3|400 ohm|3",
		"line R3 has about 400 ohm more between keys 7 and 8":                                     "more between|R3|400 ohm|7|8",
		"key 1 reads closed while 2, 5 and 6 are held: the diode of key 6 (R2-C2) does not block": "through other keys|1|2|5|6|6|R2|C2",

		"between lines, at rest; gone when looked for":                                              "some lines|rest + gone when looked for",
		"between lines, at rest again; the run was aborted before it was located":                   "some lines|rest again + aborted before located",
		"while key 7 (R3-C1) was held; gone when looked for":                                        "while held|7|R3|C1 + gone when looked for",
		"while key 7 (R3-C1) was held; the run was aborted before it was looked for":                "while held|7|R3|C1 + aborted before looked for",
		"while key 7 (R3-C1) was held; not looked for at a first press":                             "while held|7|R3|C1 + not looked for at first press",
		"between R3 (pin 3) and R4 (pin 4); gone when read again":                                   "lines|R3|3|R4|4 + gone when read again",
		"between R3 (pin 3) and R4 (pin 4); rising while watched":                                   "lines|R3|3|R4|4 + rising while watched",
		"between R3 (pin 3) and R4 (pin 4); falling while watched":                                  "lines|R3|3|R4|4 + falling while watched",
		"between R3 (pin 3) and R4 (pin 4); only after the keys were pressed":                       "lines|R3|3|R4|4 + only after presses",
		"between R3 (pin 3) and R4 (pin 4); gone when read again; only after the keys were pressed": "lines|R3|3|R4|4 + gone when read again + only after presses",
		"key 7 (R3-C1); open again while held":                                                      "key|7|R3|C1 + open again while held",
		"key 7 (R3-C1), 3 of 30 presses, the first at press 5":                                      "key|7|R3|C1 + of presses|3|30|5",
		"key 7 (R3-C1), the longest of 30 presses":                                                  "key|7|R3|C1 + longest of|30",
		"key 7 (R3-C1), 1 opening in 2s, the longest":                                               "key|7|R3|C1 + opened once|2s",
		"key 7 (R3-C1), 5 openings in 2s, the longest":                                              "key|7|R3|C1 + opened|5|2s",
		"key 7 (R3-C1), at least 5 openings in 2s, the longest":                                     "key|7|R3|C1 + opened at least|5|2s",
		"key 7 (R3-C1), at least 1 opening in 2s, the longest":                                      "key|7|R3|C1 + opened at least|1|2s",
		"key 7 (R3-C1), 1 opening in 1s while the tail was moved, the longest":                      "key|7|R3|C1 + opened once|1s + tail moved",
		"key 7 (R3-C1), 3 openings in 1s while the tail was moved, the longest":                     "key|7|R3|C1 + opened|3|1s + tail moved",
		"key 7 (R3-C1), at least 3 openings in 1s while the tail was moved, the longest":            "key|7|R3|C1 + opened at least|3|1s + tail moved",

		// Names that a person chose are no words of ours.
		"key ; gone when read again (R3-C1)":                                    "key|; gone when read again|R3|C1",
		"between ; gone when read again (pin 3) and R4 (pin 4)":                 "lines|; gone when read again|3|R4|4",
		"while key gone when looked for (R3-C1) was held; gone when looked for": "while held|gone when looked for|R3|C1 + gone when looked for",
		"somewhere; gone when read again":                                       "",
		"":                                                                      "",
	} {
		t.Run(place, func(t *testing.T) {
			run := sequence.Run{Findings: []sequence.Finding{{What: "leak", Place: place}}}
			run.Recall()
			f := run.Findings[0]
			check(t, want, append([]sequence.Said{f.At}, f.How...)...)
			assert.Equal(t, place, f.Place, "what is stored stays as it was")
		})
	}
	for reason, want := range map[string]string{
		"a line reads open, and this jig cannot prove its contact to the tail: reseat the unit once":      "seat unproven",
		"no sure contact at pin 3 (R3), pin 4 (R4): reseat the unit; if it stays, have the probe cleaned": "seat doubtful|pin 3 (R3), pin 4 (R4)",
		"no pin has contact: is there a unit in the jig?":                                                 "no contact",
		"the tail sits 1 pin off its place: reseat the unit":                                              "tail off by 1|1",
		"the tail sits -1 pin off its place: reseat the unit":                                             "tail off by 1|-1",
		"the tail sits 2 pins off its place: reseat the unit":                                             "tail off|2",
		"the tail is the wrong way round: turn the unit":                                                  "tail turned",
		"within the guard band at a first press, which is not repeated: 7, 8":                             "within guard|7, 8",
		"only these keys were exercised: 7, 4":                                                            "some exercised|7, 4",
		"a step of the plan was not done":                                                                 "step left out",
		"never pressed: 7, 8":                                                                             "never pressed|7, 8",
		"STOP was not let go within 1m0s, or stays closed":                                                "not let go|STOP|1m0s",
		sequence.HarnessOnly: "no key pressed",
		"":                   "",
	} {
		run := sequence.Run{Outcome: sequence.Incomplete, Reason: reason}
		run.Recall()
		check(t, want, run.Why)
	}
	for reason, want := range map[string]string{
		`step "self-test": jig J-0007 reads its own check resistor of 50 ohm as 52.5 ± 0.1 ohm: have the fixture engineer look at range 50 ohm`: "jig misreads|J-0007|50 ohm|52.5 ± 0.1 ohm|50 ohm",
		"interrupted by somebody at this computer":                  "interrupted",
		`step "keys": the jig's interlock is open: close the lid`:   "",
		`step "keys": jig "reads its own check resistor" is silent`: "",
		`never pressed: 7`: "",
	} {
		run := sequence.Run{Outcome: sequence.Aborted, Reason: reason}
		run.Recall()
		check(t, want, run.Why)
	}
	places, manners, reasons := sequence.Codes()
	for _, code := range append(slices.Clone(places), manners...) {
		if code == sequence.NotOhmic { // came after the codes
			continue
		}
		assert.True(t, seen[code], "no sentence of %q", code)
	}
	for _, code := range reasons {
		switch code {
		case sequence.LidOpened, sequence.Emergency, sequence.JigFailed: // were whatever the error said
		case sequence.HarnessProved, sequence.NotProved: // always had their codes
		case sequence.OnTrial, sequence.MeasurementDoubtful, sequence.DriftedVerified, sequence.DriftedSession,
			sequence.DriftedMeanwhile, sequence.ScaleDoubtful, sequence.InputsDoubtful, sequence.NoiseDoubtful: // came after the codes
		case sequence.SamePad, sequence.NotCompared: // no version before codes said so
		default:
			assert.True(t, seen[code], "no sentence of %q", code)
		}
	}
}
