package command

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// What the libraries of flags find wrong, in the words of everything else: the flag, what it
// was given, and what to write.

// wrongValue is a flag with a value that it cannot take.
func wrongValue(cmd *cobra.Command, e *pflag.InvalidValueError) error {
	flag, value := e.GetFlag(), e.GetValue()
	needs, known := valueOf[flag.Value.Type()]
	if !known {
		return Fail(Wrong, fmt.Errorf("--%s %q: %w", flag.Name, value, errors.Unwrap(e)), "--"+flag.Name+" "+meant(flag, value, usual(flag)))
	}
	says := fmt.Sprintf("--%s %q: write %s", flag.Name, value, needs.says)
	if errors.Is(e, strconv.ErrRange) {
		says = fmt.Sprintf("--%s %q: the number is too large", flag.Name, value)
	}
	return Fail(Wrong, errors.New(says), "--"+flag.Name+separator(flag)+meant(flag, value, needs.example))
}

func separator(flag *pflag.Flag) string {
	if flag.NoOptDefVal != "" {
		return "=" // what follows a space would be another argument
	}
	return " "
}

// whatOf is what the help calls the value of a flag.
func whatOf(flag *pflag.Flag) string {
	what, _ := pflag.UnquoteUsage(flag)
	return what
}

// usual is what a flag is where it is not given, else what the help calls its value.
func usual(flag *pflag.Flag) string {
	if flag.DefValue == "" || flag.DefValue == "0" {
		return whatOf(flag)
	}
	return flag.DefValue
}

// valueOf says what each type of flag takes, and an example.
var valueOf = map[string]struct{ says, example string }{
	"int":      {"a whole number", "20"},
	"int64":    {"a whole number", "20"},
	"uint8":    {"a whole number from 0 to 255", "3"},
	"uint64":   {"a whole number, 0 or more", "7"},
	"float64":  {"a number with a decimal point, such as 0.95", "0.95"},
	"duration": {"a time with its unit, such as 2s, 10m or 1h", "2s"},
	"bool":     {"true or false, with = before it", "true"},
}

// meant is what a value would be with the slip that it has taken out, else an example.
func meant(flag *pflag.Flag, value, example string) string {
	value = strings.TrimSpace(value)
	point := strings.Replace(value, ",", ".", 1)
	number, percent := strings.CutSuffix(point, "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	switch flag.Value.Type() {
	case "float64":
		switch {
		case err == nil && percent:
			return strconv.FormatFloat(v/100, 'g', 10, 64)
		case err == nil:
			return point
		}
	case "duration":
		if _, bad := time.ParseDuration(point); bad == nil {
			return point
		}
		if err == nil && !percent {
			return point + "s, or " + point + "m"
		}
	case "int", "int64", "uint64", "uint8":
		if err == nil && v == float64(int64(v)) && v >= 0 && v < 1e9 {
			return strconv.FormatInt(int64(v), 10)
		}
		if flag.DefValue != "0" {
			return flag.DefValue
		}
	default:
		if err == nil && point != value {
			return point
		}
	}
	return example
}

// missingFlags finds what a command cannot do without in what its library says of it.
var missingFlags = regexp.MustCompile(`^required flag\(s\) (".*") not set$`)

// flagGroups find flags that go with others only, or not with them.
var (
	exclusive = regexp.MustCompile(`^if any flags in the group \[.*\] are set none of the others can be; \[(.*)\] were all set$`)
	together  = regexp.MustCompile(`^if any flags in the group \[(.*)\] are set they must all be set; missing \[(.*)\]$`)
	oneOf     = regexp.MustCompile(`^at least one of the flags in the group \[(.*)\] is required$`)
)

// ofLibrary puts what the library of commands says of flags into the words of ours.
func ofLibrary(cmd *cobra.Command, err error) error {
	text := err.Error()
	if m := missingFlags.FindStringSubmatch(text); m != nil {
		names := strings.Split(strings.ReplaceAll(m[1], `"`, ""), ", ")
		return Fail(Wrong, fmt.Errorf("%s %s missing", listed(Each(names, dashed)), isOrAre(names)), withValues(cmd, names))
	}
	if m := exclusive.FindStringSubmatch(text); m != nil {
		names := strings.Fields(m[1])
		return Fail(Wrong, fmt.Errorf("%s do not go together", listed(Each(names, dashed))), "one of them alone")
	}
	if m := together.FindStringSubmatch(text); m != nil {
		return Fail(Wrong, fmt.Errorf("%s go together, and %s is missing", listed(Each(strings.Fields(m[1]), dashed)),
			listed(Each(strings.Fields(m[2]), dashed))), withValues(cmd, strings.Fields(m[2])))
	}
	if m := oneOf.FindStringSubmatch(text); m != nil {
		names := strings.Fields(m[1])
		return Fail(Wrong, fmt.Errorf("one of %s is needed", strings.Join(Each(names, dashed), ", ")), withValues(cmd, names[:1]))
	}
	return err
}

func dashed(name string) string { return "--" + name }

func isOrAre(names []string) string {
	if len(names) == 1 {
		return "is"
	}
	return "are"
}

// listed are words with "and" before the last.
func listed(words []string) string {
	last := len(words) - 1
	if last <= 0 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

// withValues are flags as one types them.
func withValues(cmd *cobra.Command, names []string) string {
	return cmd.CommandPath() + " ... " + strings.Join(Each(names, func(name string) string {
		if flag := cmd.Flags().Lookup(name); flag != nil {
			return strings.TrimSpace("--" + name + " " + whatOf(flag))
		}
		return "--" + name
	}), " ")
}
