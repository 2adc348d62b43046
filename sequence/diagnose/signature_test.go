package diagnose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/quantity"
	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/product"
)

// subject is a unit whose readings a test makes up.
type subject struct {
	readings.Unit
	good  *model.Model
	after []Looked
}

func (s *subject) diagnose() Diagnosis { return Diagnose(s.Unit, s.after...) }

// healthySubject reads as a good unit does: contacts about their nominal value, standard
// uncertainties of 250 ppm, diodes that conduct at 0.64 V.
func healthySubject(t testing.TB, name string) *subject {
	t.Helper()
	p, err := product.Load("../../testdata/products/" + name + ".yaml")
	require.NoError(t, err)
	return subjectOf(p)
}

func subjectOf(p *product.Product) *subject {
	s := &subject{Unit: readings.Unit{
		Product: p, Closure: 100e3, Pressed: true, SelfTest: readings.Done, Rested: readings.Done, Keys: make([]readings.Key, len(p.Keys)),
	}}
	s.good = model.New(&s.Unit)
	rnd := rand.New(rand.NewPCG(1, 2))
	for pin := range p.Tail {
		s.Seats = append(s.Seats, readings.Seat{Pin: pin + 1, Loop: readings.Reading{Value: 10, U: 0.01}, Good: true})
	}
	for k := range p.Keys {
		contact := float64(p.Keys[k].Contact) * (1 + 0.08*rnd.NormFloat64())
		s.Keys[k] = readings.Key{State: readings.Closed, Alone: true, Make: readings.Short, Break: readings.Short}
		s.reads(k, contact+s.good.Healthy(k).Path)
		if p.Keys[k].Diode != product.NoDiode {
			s.Keys[k].Forward = &readings.Forward{Value: 0.64, U: 1e-3}
			s.Keys[k].Reverse = &readings.Reading{Value: 100e6, AtLeast: true}
		}
	}
	return s
}

func (s *subject) key(label string) *readings.Key { return &s.Keys[s.Product.Key(label)] }

func (s *subject) reads(k int, v float64) {
	s.Keys[k].Closed = &readings.Reading{Value: ohm(v), U: ohm(250e-6 * v)}
}

// high lets a key read so many ohms.
func (s *subject) high(label string, v float64) { s.reads(s.Product.Key(label), v) }

// more adds ohms to every key of a line from a place of its track on.
func (s *subject) more(line string, after int, v float64) {
	l := s.Product.Line(line)
	for _, k := range s.Product.Lines[l].Track[after:] {
		s.reads(k, float64(s.Keys[k].Closed.Value)+v)
	}
}

// open lets keys read open.
func (s *subject) open(keys ...int) {
	for _, k := range keys {
		s.Keys[k] = readings.Key{State: readings.Open, Alone: true, Reverse: s.Keys[k].Reverse}
	}
}

func (s *subject) openFrom(line string, after int) {
	s.open(s.Product.Lines[s.Product.Line(line)].Track[after:]...)
}

// joined lists a pair at rest; keys between nets that are connected are not tested.
func (s *subject) joined(a, b string, v float64, change ...func(*readings.Pair)) {
	r := readings.Reading{Value: ohm(v), U: ohm(250e-6 * v)}
	p := readings.Pair{Lines: [2]int{s.Product.Line(a), s.Product.Line(b)}, Ohm: r, Forward: &r, Backward: &r}
	for _, c := range change {
		c(&p)
	}
	s.Rest = append(s.Rest, p)
	n := s.Nets()
	for k, key := range s.Product.Keys {
		if n.Same(key.A, key.B) {
			s.Keys[k] = readings.Key{}
		}
	}
}

func oneWay(p *readings.Pair) { p.Backward = &readings.Reading{Value: 200e6, AtLeast: true} }

func (s *subject) looked(a Action, key string, outcome int) {
	s.after = append(s.after, Looked{Action: a, Key: key, Outcome: outcome, Says: said("looked.all pins")})
}

// symptom is what a row of the table of failure modes looks like in readings.
type symptom struct {
	row     int
	product string
	made    func(*subject)
	kind    Kind
	place   string // a part of it
	// among is set where other kinds read the same and may come first: kind must then be
	// in the first group.
	among bool
}

var signatures = []symptom{
	{1, "gcc-20", func(s *subject) {
		s.high("7", 640)
		s.key("7").Make = readings.Long
		s.looked(PressAgain, "7", 1)
	}, ContactDirty, "key 7 (R3-C1)", false},
	{2, "gcc-20", func(s *subject) { s.high("OK", 8e3); s.looked(PressAgain, "OK", 1) }, ContactWorn, "key OK", true},
	{3, "gcc-20", func(s *subject) { s.open(s.Product.Key("7")); s.looked(PressAgain, "7", 3) }, ContactMissing, "key 7", false},
	{4, "gcc-20", func(s *subject) { s.key("7").Make = readings.Long }, DomeCracked, "key 7", false},
	{5, "console-104", func(s *subject) { s.joined("X3", "Y3", 11) }, DomeInverted, "key W", true},
	{6, "gcc-20", func(s *subject) { s.key("7").Late = true; s.key("7").Break = readings.NotSeen }, KeyStuck, "key 7", false},
	{7, "gcc-20", func(s *subject) { s.key("7").Teases = true; s.key("7").Make = readings.NotSeen }, KeyPretravelled, "key 7", true},
	{8, "gcc-20", func(s *subject) {
		for k, key := range s.Product.Keys {
			s.reads(k, float64(s.Keys[k].Closed.Value)*math.Exp(0.6*key.X))
		}
	}, ContactMisplaced, "over the whole panel, worse to the right", false},
	{9, "gcc-20", func(s *subject) { s.openFrom("R3", 0) }, LineOpen, "line R3 open between pin 3 and its first key 7", false},
	{10, "gcc-20", func(s *subject) { s.openFrom("C2", 0) }, LineOpen, "line C2 open between pin 7", false},
	{11, "gcc-20", func(s *subject) { s.openFrom("R3", 1) }, LineBroken, "line R3 broken between keys 7 and 8, tail side good", false},
	{12, "gcc-20", func(s *subject) { s.openFrom("C2", 2) }, LineBroken, "line C2 broken between keys 0 and 8, tail side good", false},
	{13, "gcc-20", func(s *subject) { s.more("R3", 1, 400) }, LineCracked, "line R3 has more resistance from between keys 7 and 8 on", false},
	{14, "gcc-20", func(s *subject) {
		for _, l := range []string{"R2", "R3", "R4"} {
			s.openFrom(l, 0)
		}
	}, TailCreased, "across the tail at pins 2, 3, 4", false},
	{15, "gcc-20", func(s *subject) {
		for k := range s.Keys {
			s.reads(k, float64(s.Keys[k].Closed.Value)+20*s.good.Healthy(k).Path)
		}
	}, PrintThin, "all tracks have 2", false},
	{16, "gcc-20", func(s *subject) { s.joined("R3", "R4", 9) }, PrintSmeared, "R3 (pin 3) and R4 (pin 4), side by side", true},
	{17, "gcc-20", func(s *subject) { s.joined("R2", "R4", 10) }, LinesShorted, "between R2 (pin 2) and R4 (pin 4)", false},
	{18, "gcc-20", func(s *subject) { s.joined("C1", "C3", 10) }, LinesShorted, "between C1 (pin 6) and C3 (pin 8)", false},
	{19, "gcc-20", func(s *subject) { s.joined("R3", "C1", 10) }, CrossingShorted, "between R3 (pin 3) and C1 (pin 6)", false},
	{20, "gcc-20", func(s *subject) {
		s.joined("R3", "R4", 2e6, oneWay, func(p *readings.Pair) { p.Trend = readings.Falling })
	}, SilverGrowing, "between R3", false},
	{21, "gcc-20", func(s *subject) { s.joined("R3", "R4", 900, func(p *readings.Pair) { p.Gone = true }) }, SilverBridge, "between R3", false},
	{22, "gcc-20", func(s *subject) {
		for i, pair := range [][2]string{{"R4", "R5"}, {"R5", "C1"}, {"R4", "C1"}, {"C1", "C2"}, {"R5", "C2"}, {"R4", "C2"}} {
			s.joined(pair[0], pair[1], 150e3*float64(i*i+1))
		}
	}, LiquidInside, "6 leaks among lines R4, R5, C1, C2", false},
	{23, "gcc-20", func(s *subject) {
		for a := range s.Product.Lines {
			for b := range a {
				s.joined(s.Product.Lines[b].Name, s.Product.Lines[a].Name, 5e6+1e4*float64(a), func(p *readings.Pair) { p.Trend = readings.Rising })
			}
		}
	}, HumidityFilm, "45 leaks", false},
	{24, "gcc-20", func(s *subject) { s.joined("C1", "SH", 10) }, ShieldShorted, "between C1 (pin 6) and SH (pin 10)", false},
	{25, "bay-16", func(s *subject) { s.key("6").Forward = &readings.Forward{Value: 0.28, U: 1e-3} }, DiodeDamaged, "key 6", false},
	{25, "bay-16", func(s *subject) { s.key("6").Reverse = &readings.Reading{Value: 3e3, U: 1} }, DiodeDamaged, "key 6", false},
	{26, "bay-16", func(s *subject) { s.open(s.Product.Key("6")) }, DiodeMissing, "key 6", true},
	{27, "bay-16", func(s *subject) {
		*s.key("6") = readings.Key{State: readings.Reversed, Alone: true, Reverse: &readings.Reading{Value: 700, U: 1}}
	}, DiodeReversed, "key 6", false},
	{28, "bay-16", func(s *subject) {
		s.key("6").Forward = &readings.Forward{Value: 0.001, U: 1e-3}
		s.key("6").Reverse = &readings.Reading{Value: 4, U: 0.01}
	}, DiodeShorted, "key 6", false},
	{30, "gcc-20", func(s *subject) { s.lies(model.Shift(s.Product, 1)) }, TailShifted, "1 pin too far towards its last", false},
	{31, "gcc-20", func(s *subject) { s.lies(model.Mirror(s.Product)) }, TailReversed, "the wrong way round", false},
	{32, "gcc-20", func(s *subject) { s.unseat(4) }, PinDoubtful, "pin 4 (R4)", false},
	{33, "gcc-20", func(s *subject) {
		q := *s.Product
		q.Code, q.Keys = "GCC-20X", slices.Clone(q.Keys)
		for i := range q.Keys {
			q.Keys[i].Actuator = s.Product.Keys[len(q.Keys)-1-i].Actuator
		}
		s.Known = append(s.Known, &q)
		s.lies(model.Replaced(s.Product, &q))
	}, WrongProduct, "GCC-20X", false},
	{34, "gcc-20", func(s *subject) {
		for _, l := range []string{"5", "6", "8", "9"} {
			s.key(l).Late, s.key(l).Break = true, readings.NotSeen
		}
	}, SpacerCreep, "around keys 5, 6, 8, 9", false},
	{35, "gcc-20", func(s *subject) {
		s.key("7").Unsteady = true
		s.looked(HoldKey, "7", 0)
	}, ContactUnsteady, "key 7", false},
	{36, "gcc-20", func(s *subject) {
		s.open(s.Product.Key("7"))
		s.looked(TryReference, "", 0)
	}, ActuatorMisses, "key 7", false},
	{37, "gcc-20", func(s *subject) {
		s.unseat(4)
		s.looked(TryReference, "", 0)
	}, ProbeDirty, "pin 4", false},
	{38, "gcc-20", func(s *subject) {
		for k := range s.Keys {
			s.Keys[k].Closed.U = s.Keys[k].Closed.Value * 0.2
			s.Keys[k].Closed.Value *= quantity.Ohm(1 + 3*float64(k%3))
		}
	}, JigNoisy, "readings of all keys", false},
}

// lies is a unit whose lines lie elsewhere, on a jig without loops: every key is open,
// and what it closes instead was found while it was held.
func (s *subject) lies(l *model.Layout) {
	s.Seats = nil
	for k := range s.Keys {
		if l.Own(s.Product, k) {
			continue
		}
		s.open(k)
		if at := l.At(k); at[0] >= 0 && at[1] >= 0 {
			s.Held = append(s.Held, readings.Held{Key: k, Lines: at, Ohm: readings.Reading{Value: 80, U: 0.02}})
		}
	}
}

// unseat leaves a pin without contact; nothing is pressed then.
func (s *subject) unseat(pin int) {
	s.Seats[pin-1] = readings.Seat{Pin: pin, Loop: readings.Reading{Value: 60, U: 0.1}}
	s.Keys = make([]readings.Key, len(s.Keys))
}

// Each row of the table of failure modes that readings of a jig can show is named from
// its signature.
func TestSignatures(t *testing.T) {
	for _, c := range signatures {
		t.Run(fmt.Sprintf("row %d %s", c.row, c.kind), func(t *testing.T) {
			s := healthySubject(t, c.product)
			c.made(s)
			d := s.diagnose()
			require.NotEmpty(t, d.Groups, d.Sum)
			first := d.Groups[0].Causes
			at := slices.IndexFunc(first, func(x Cause) bool { return x.Kind == c.kind })
			require.GreaterOrEqual(t, at, 0, "%v", first)
			assert.Contains(t, inWords(t, first[at].Place), c.place)
			assert.True(t, c.among || at == 0, "%v", first)
			assert.Equal(t, 1, d.Found, "%v", d.Groups)
			assert.Contains(t, c.kind.Rows(), c.row)
			assert.Greater(t, d.Groups[0].Probability, 0.5)
			if c.row != 36 && c.row != 37 { // these rest on the reference unit
				assert.NotEmpty(t, d.Groups[0].For)
			}
			t.Log(d.Sum)
		})
	}
}

// All 38 rows are accounted for: by a signature here, or by a line in the documentation
// that says why readings of a jig cannot show it.
func TestEveryFailureModeIsAccountedFor(t *testing.T) {
	text, err := os.ReadFile("../../docs/diagnosis.md")
	require.NoError(t, err)
	tested := map[int]bool{}
	for _, c := range signatures {
		tested[c.row] = true
	}
	rows := regexp.MustCompile(`(?m)^\| (\d+) \|.*\|([^|]*)\|$`).FindAllStringSubmatch(string(text), -1)
	require.Len(t, rows, 38)
	for i, row := range rows {
		n, err := strconv.Atoi(row[1])
		require.NoError(t, err)
		assert.Equal(t, i+1, n)
		not := regexp.MustCompile(`cannot`).MatchString(row[2])
		assert.NotEqual(t, tested[n], not, "row %d: %q", n, row[2])
	}
	for k := range kinds {
		assert.Contains(t, string(text), "`"+string(k)+"`", "kind without a word in the documentation")
	}
}
