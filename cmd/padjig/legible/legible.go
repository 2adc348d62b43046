// Package legible says how large letters have to be to be read from where people stand:
// pure geometry of a screen, a distance and an angle, and the style that a page takes
// its sizes from.
package legible

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Least is the least height of a capital letter as it is seen, in minutes of arc: what
// ISO 9241-303 demands of displays where reading matters, 20 to 22 being preferred (from
// memory: the standard was not at hand).
const Least = 16

// Usual are the screen and the distance where nobody says otherwise.
const (
	UsualScreen   = "24in"
	UsualDistance = "3m"
)

// Height is how high something is that is seen under an angle, in minutes of arc, from a
// distance d, in the unit of d: h = 2 d tan(angle/2).
func Height(d, minutes float64) float64 {
	return 2 * d * math.Tan(minutes/60*math.Pi/180/2)
}

// Screen is a screen and from where it is read, in millimetres.
type Screen struct {
	Diagonal float64 // 0: Width is known
	Width    float64
	Distance float64
}

// Of reads a screen, as its diagonal in inches (24in) or its width (531mm, 53cm), and a
// distance (3m, 250cm); what is empty is the usual.
func Of(screen, distance string) (s Screen, err error) {
	if screen == "" {
		screen = UsualScreen
	}
	if distance == "" {
		distance = UsualDistance
	}
	if s.Distance, err = length(distance, 300, 20000); err != nil {
		return s, fmt.Errorf("--distance %s: %w", distance, err)
	}
	if strings.HasSuffix(screen, "in") {
		s.Diagonal, err = length(screen, 5*inch, 120*inch)
	} else {
		s.Width, err = length(screen, 100, 2700)
	}
	if err != nil {
		return s, fmt.Errorf("--screen %s: %w", screen, err)
	}
	return s, nil
}

const inch = 25.4 // mm

var units = []struct {
	name string
	mm   float64
}{{"mm", 1}, {"cm", 10}, {"in", inch}, {"m", 1000}}

var errNoLength = errors.New("write a number with its unit, such as 24in (a diagonal), 531mm or 3m")

// length reads a length, in millimetres.
func length(text string, least, most float64) (float64, error) {
	for _, u := range units {
		number, found := strings.CutSuffix(strings.TrimSpace(text), u.name)
		if !found {
			continue
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if err != nil {
			return 0, errNoLength
		}
		if v *= u.mm; !(v >= least && v <= most) {
			return 0, fmt.Errorf("that is not between %g and %g mm", least, most)
		}
		return v, nil
	}
	return 0, errNoLength
}

// Letter is how high a capital letter has to be on the screen, in millimetres.
func (s Screen) Letter() float64 { return Height(s.Distance, Least) }

// The shape of a screen of which only one measure is known.
const wide, high = 16.0, 9.0

// High is how high the screen is, in millimetres, when it is 16 to 9.
func (s Screen) High() float64 {
	if s.Diagonal > 0 {
		return s.Diagonal * high / math.Hypot(wide, high)
	}
	return s.Width * high / wide
}

// What the page of a lane needs of a screen's height: a word, causes and what to do of so
// many letters' height, and so many millimetres of it for what is touched and the rest.
const (
	inLetters = 10.0
	besides   = 127.0
)

// Farthest is from how far the page of a lane can be read on this screen, in millimetres.
func (s Screen) Farthest() float64 {
	return max(0, s.High()-besides) / inLetters / Height(1, Least)
}

// TooSmall reports whether causes cannot all stand in readable letters on this screen.
func (s Screen) TooSmall() bool { return s.Distance > s.Farthest() }

// Style is the style sheet that pages take their sizes from: --mm is a millimetre on the
// screen, which the page fills, and --letter the height of a capital letter.
func (s Screen) Style() string {
	mm := fmt.Sprintf("calc(100vw / %.6g)", s.Width)
	if s.Diagonal > 0 {
		mm = fmt.Sprintf("calc(hypot(100vw, 100vh) / %.6g)", s.Diagonal)
	}
	return fmt.Sprintf(":root {\n  --mm: %s;\n  --letter: calc(%.6g * var(--mm));\n}\n", mm, s.Letter())
}
