package devicetree

import (
	"strconv"
	"strings"
)

// keyNames are the names of the key codes of Linux (linux/input-event-codes.h,
// without KEY_) in their order from 0; "-" where there is none.
var keyNames = strings.Fields(`
	RESERVED ESC 1 2 3 4 5 6 7 8 9 0 MINUS EQUAL BACKSPACE TAB Q W E R T Y U I O P LEFTBRACE RIGHTBRACE
	ENTER LEFTCTRL A S D F G H J K L SEMICOLON APOSTROPHE GRAVE LEFTSHIFT BACKSLASH Z X C V B N M COMMA
	DOT SLASH RIGHTSHIFT KPASTERISK LEFTALT SPACE CAPSLOCK F1 F2 F3 F4 F5 F6 F7 F8 F9 F10 NUMLOCK
	SCROLLLOCK KP7 KP8 KP9 KPMINUS KP4 KP5 KP6 KPPLUS KP1 KP2 KP3 KP0 KPDOT - ZENKAKUHANKAKU 102ND F11
	F12 RO KATAKANA HIRAGANA HENKAN KATAKANAHIRAGANA MUHENKAN KPJPCOMMA KPENTER RIGHTCTRL KPSLASH SYSRQ
	RIGHTALT LINEFEED HOME UP PAGEUP LEFT RIGHT END DOWN PAGEDOWN INSERT DELETE MACRO MUTE VOLUMEDOWN
	VOLUMEUP POWER KPEQUAL KPPLUSMINUS PAUSE SCALE KPCOMMA HANGEUL HANJA YEN LEFTMETA RIGHTMETA COMPOSE
	STOP AGAIN PROPS UNDO FRONT COPY OPEN PASTE FIND CUT HELP MENU CALC SETUP SLEEP WAKEUP FILE
	SENDFILE DELETEFILE XFER PROG1 PROG2 WWW MSDOS COFFEE ROTATE_DISPLAY CYCLEWINDOWS MAIL BOOKMARKS
	COMPUTER BACK FORWARD CLOSECD EJECTCD EJECTCLOSECD NEXTSONG PLAYPAUSE PREVIOUSSONG STOPCD RECORD
	REWIND PHONE ISO CONFIG HOMEPAGE REFRESH EXIT MOVE EDIT SCROLLUP SCROLLDOWN KPLEFTPAREN
	KPRIGHTPAREN NEW REDO F13 F14 F15 F16 F17 F18 F19 F20 F21 F22 F23 F24 - - - - - PLAYCD PAUSECD
	PROG3 PROG4 ALL_APPLICATIONS SUSPEND CLOSE PLAY FASTFORWARD BASSBOOST PRINT HP CAMERA SOUND
	QUESTION EMAIL CHAT SEARCH CONNECT FINANCE SPORT SHOP ALTERASE CANCEL BRIGHTNESSDOWN BRIGHTNESSUP
	MEDIA SWITCHVIDEOMODE KBDILLUMTOGGLE KBDILLUMDOWN KBDILLUMUP SEND REPLY FORWARDMAIL SAVE DOCUMENTS
	BATTERY BLUETOOTH WLAN UWB UNKNOWN VIDEO_NEXT VIDEO_PREV BRIGHTNESS_CYCLE BRIGHTNESS_AUTO
	DISPLAY_OFF WWAN RFKILL MICMUTE`)

// remoteNames are those of remote controls, from remoteCodes on.
var remoteNames = strings.Fields(`OK SELECT GOTO CLEAR POWER2 OPTION INFO TIME VENDOR ARCHIVE PROGRAM CHANNEL`)

// padNames are those of telephone pads, from padCodes on.
var padNames = strings.Fields(`
	NUMERIC_0 NUMERIC_1 NUMERIC_2 NUMERIC_3 NUMERIC_4 NUMERIC_5 NUMERIC_6 NUMERIC_7 NUMERIC_8 NUMERIC_9
	NUMERIC_STAR NUMERIC_POUND NUMERIC_A NUMERIC_B NUMERIC_C NUMERIC_D`)

const remoteCodes, padCodes = 0x160, 0x200

// tables are the names by the code of the first of them.
var tables = map[int][]string{0: keyNames, remoteCodes: remoteNames, padCodes: padNames}

// constants are the names with a value that a source may use without a
// definition of its own: key codes, and the flags of dt-bindings/gpio/gpio.h.
var constants = func() map[string]uint64 {
	all := map[string]uint64{
		"GPIO_ACTIVE_HIGH": 0, "GPIO_ACTIVE_LOW": 1, "GPIO_PUSH_PULL": 0, "GPIO_SINGLE_ENDED": 2,
		"GPIO_LINE_OPEN_SOURCE": 0, "GPIO_LINE_OPEN_DRAIN": 4, "GPIO_OPEN_DRAIN": 6, "GPIO_OPEN_SOURCE": 2,
		"GPIO_PULL_UP": 16, "GPIO_PULL_DOWN": 32,
	}
	for first, names := range tables {
		for i, name := range names {
			if name != "-" {
				all["KEY_"+name] = uint64(first + i)
			}
		}
	}
	return all
}()

// labelOf gives the label of a key code: the name without its prefix, or the
// name that belongs to the number, or K and the number.
func labelOf(name string, code uint16) string {
	if name != "" {
		for _, prefix := range []string{"KEY_", "BTN_"} {
			if rest, ok := strings.CutPrefix(name, prefix); ok && rest != "" {
				return rest
			}
		}
		return name
	}
	for first, names := range tables {
		if i := int(code) - first; i >= 0 && i < len(names) && names[i] != "-" {
			return names[i]
		}
	}
	return "K" + strconv.Itoa(int(code))
}
