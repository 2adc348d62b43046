package floor

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Weekdays are days of the week, Monday in the lowest bit. None stands for all: a shift
// that is on no day is none.
type Weekdays uint8

const (
	everyDay Weekdays = 0
	allBits  Weekdays = 1<<7 - 1
)

// weekdayNames as they are written, Monday first.
var weekdayNames = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}

// OnDays are days by their number, Monday 0.
func OnDays(days ...int) (w Weekdays) {
	for _, d := range days {
		w |= 1 << d
	}
	return w.read()
}

// read makes all seven the one way in which they are known here, kept the one in the records.
func (w Weekdays) read() Weekdays {
	if w == allBits {
		return everyDay
	}
	return w
}

func (w Weekdays) kept() int64 {
	if w == everyDay {
		return int64(allBits)
	}
	return int64(w)
}

func (w Weekdays) on(day int) bool { return w == everyDay || w&(1<<day) != 0 }

// On reports whether a day of the week is one of them.
func (w Weekdays) On(day time.Weekday) bool { return w.on((int(day) + 6) % 7) }

// String gives the form that [ParseWeekdays] reads: runs of three and more are drawn together.
func (w Weekdays) String() string {
	var parts []string
	for day := 0; day < 7; day++ {
		if !w.on(day) {
			continue
		}
		last := day
		for last < 6 && w.on(last+1) {
			last++
		}
		switch {
		case last-day >= 2:
			parts = append(parts, weekdayNames[day]+"-"+weekdayNames[last])
		case last > day:
			parts = append(parts, weekdayNames[day], weekdayNames[last])
		default:
			parts = append(parts, weekdayNames[day])
		}
		day = last
	}
	return strings.Join(parts, ",")
}

// ParseWeekdays reads "mon-fri", "sat,sun" or "fri-mon".
func ParseWeekdays(text string) (w Weekdays, err error) {
	for part := range strings.SplitSeq(strings.ToLower(text), ",") {
		from, to, isRange := strings.Cut(part, "-")
		first, last := slices.Index(weekdayNames, from), slices.Index(weekdayNames, to)
		if !isRange {
			last = first
		}
		if first < 0 || last < 0 {
			return 0, fmt.Errorf("%q are no days such as mon-fri or sat,sun", text)
		}
		for day := first; ; day = (day + 1) % 7 {
			w |= 1 << day
			if day == last {
				break
			}
		}
	}
	return w.read(), nil
}
