package handoff

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"padjig/results/store"
)

// Receiver is one that a station is told of: its name and how it is reached.
type Receiver struct {
	Name string
	Sender
}

var (
	nameForm = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,30}[a-z0-9])?$`)
	holes    = regexp.MustCompile(`\{[^}]*\}?`)
)

const exampleAddress = "mes=https://mes.example/padjig"

// Receivers reads --hand-off and --hand-off-secret: NAME=ADDRESS and NAME=FILE. The error
// never has a secret in it.
func Receivers(addresses, secrets []string) ([]Receiver, error) {
	files, err := secretFiles(secrets)
	if err != nil {
		return nil, err
	}
	var all []Receiver
	for _, given := range addresses {
		name, address, _ := strings.Cut(given, "=")
		if !nameForm.MatchString(name) || address == "" {
			return nil, fmt.Errorf("--hand-off %s: write a name of a-z, 0-9 and -, and the address: %s", withoutUser(given), exampleAddress)
		}
		if slices.ContainsFunc(all, func(r Receiver) bool { return r.Name == name }) {
			return nil, fmt.Errorf("--hand-off: there are two receivers %s: give each a name of its own", name)
		}
		secret, err := secretIn(files[name])
		if err != nil {
			return nil, fmt.Errorf("--hand-off-secret of %s: %w", name, err)
		}
		sender, err := senderOf(name, address, secret)
		if err != nil {
			return nil, fmt.Errorf("--hand-off %s: %w", name, err)
		}
		all = append(all, Receiver{name, sender})
		delete(files, name)
	}
	if left := slices.Sorted(maps.Keys(files)); len(left) > 0 {
		return nil, fmt.Errorf("--hand-off-secret %s: there is no --hand-off %s=ADDRESS", left[0], left[0])
	}
	return all, nil
}

// withoutUser is an address without what may be a password in it.
func withoutUser(address string) string {
	scheme, rest, found := strings.Cut(address, "://")
	if at := strings.LastIndex(rest, "@"); found && at >= 0 {
		return scheme + "://..." + rest[at:]
	}
	return address
}

func secretFiles(secrets []string) (map[string]string, error) {
	files := map[string]string{}
	for _, given := range secrets {
		name, file, found := strings.Cut(given, "=")
		if !found || !nameForm.MatchString(name) || file == "" {
			return nil, errors.New("--hand-off-secret: write the receiver's name and a file: mes=/etc/padjig/mes.secret")
		}
		if files[name] != "" {
			return nil, fmt.Errorf("--hand-off-secret: there are two of %s", name)
		}
		files[name] = file
	}
	return files, nil
}

// secretIn reads a secret; none where there is no file.
func secretIn(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return "", err
	}
	if info.Mode().Perm()&0o007 != 0 {
		return "", fmt.Errorf("%s can be read by everybody: chmod 600 %[1]s", path)
	}
	text, err := io.ReadAll(io.LimitReader(f, 4096))
	secret := strings.TrimRight(string(text), "\r\n")
	if err == nil && (secret == "" || strings.ContainsAny(secret, "\r\n\x00")) {
		err = fmt.Errorf("%s: it has to be one line", path)
	}
	return secret, err
}

func senderOf(name, address, secret string) (Sender, error) {
	u, err := url.Parse(address)
	if err != nil {
		return nil, errors.New("this is no address: " + exampleAddress)
	}
	if _, has := u.User.Password(); has {
		return nil, errors.New("an address stands in lists of programs: put the password into a file, --hand-off-secret " + name + "=FILE")
	}
	switch u.Scheme {
	case "http", "https":
		return webhookTo(u, name, secret)
	case "mqtt", "mqtts":
		return brokerAt(u, name, secret)
	case "file":
		return folderAt(u, secret)
	}
	return nil, fmt.Errorf("%q: write https://, http://, mqtt://, mqtts:// or file:///", u.Scheme)
}

func webhookTo(u *url.URL, name, secret string) (Sender, error) {
	switch {
	case u.Host == "":
		return nil, errors.New("there is no host in the address")
	case u.User != nil:
		return nil, errors.New("nobody signs in to a webhook: take the name out of the address, each message is signed")
	case secret == "":
		return nil, errors.New("messages are signed: --hand-off-secret " + name + "=FILE, with what is agreed with the receiver")
	}
	w, err := newWebhook(u.String(), secret)
	if err != nil {
		return nil, fmt.Errorf("its secret: %w", err)
	}
	return w, nil
}

func brokerAt(u *url.URL, name, secret string) (Sender, error) {
	topic, err := url.PathUnescape(strings.TrimPrefix(u.EscapedPath(), "/"))
	b := &broker{address: u.Host, secure: u.Scheme == "mqtts", client: "padjig-" + store.ThisStation().Host + "-" + name,
		user: u.User.Username(), password: secret, topic: topic}
	if u.Port() == "" {
		b.address = net.JoinHostPort(u.Hostname(), map[bool]string{false: "1883", true: "8883"}[b.secure])
	}
	switch {
	case err != nil, u.RawQuery != "", u.Fragment != "", strings.ContainsAny(topic, "+#\x00"):
		return nil, errors.New("a topic has no +, # or ?: mqtt://broker:1883/padjig/{product}")
	case u.Hostname() == "":
		return nil, errors.New("there is no host in the address")
	case topic == "":
		return nil, errors.New("name the topic: " + u.Scheme + "://" + u.Host + "/padjig/{product}")
	case b.user == "" && secret != "":
		return nil, errors.New("whom the password is of is not said: " + u.Scheme + "://USER@" + u.Host + "/" + topic)
	}
	for _, hole := range holes.FindAllString(topic, -1) {
		if !slices.Contains([]string{"{product}", "{unit}", "{type}"}, hole) {
			return nil, fmt.Errorf("a topic can have {product}, {unit} and {type} in it, and not %s", hole)
		}
	}
	return b, nil
}

func folderAt(u *url.URL, secret string) (Sender, error) {
	switch {
	case u.Host != "", !filepath.IsAbs(u.Path):
		return nil, errors.New("write a folder of this computer, from its root: file:///srv/" + cmp.Or(u.Host, "padjig"))
	case secret != "":
		return nil, errors.New("a folder has no secret")
	}
	return folder{u.Path}, nil
}
