"""Where things lie: file, environment and options, read once into one frozen value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from zoneinfo import ZoneInfo

from capture.errors import InputError
from desk.profile import PROFILE_NAME, local_zone, read_profile
from desk.profile import Profile as Profile
from extract.exact.registration import normal_form

DATABASE_VARIABLE = "COWLNOTE_DATABASE"
HOME_VARIABLE = "COWLNOTE_HOME"
MODELS_VARIABLE = "COWLNOTE_MODELS"
FLEET = "aircraft"  # the folder of the profiles of further aircraft
FIELDS = "fields"  # the folder of the owner's own fields


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything a command needs to know before it starts.

    `home` holds the profile, the database and the vault, and may not exist yet; `database` is the
    home, or the address of a shared server. `others` are the profiles of further aircraft of this
    home, by their registration in its normal form.
    """

    home: Path
    profile: Profile
    has_profile: bool
    models_dir: Path
    database: str | Path
    others: Mapping[str, Profile] = field(default_factory=dict)

    def profile_of(self, registration: str | None) -> Profile:
        """Give the profile of an aircraft; of one without a file nothing but its name is known.

        Without a registration it is the home's own.
        """
        if not registration or normal_form(registration) == normal_form(self.profile.registration):
            return self.profile
        found = self.others.get(normal_form(registration))
        return found or Profile(registration=registration, zone=self.profile.zone)

    def of(self, registration: str) -> Settings:
        """Give the settings with another aircraft's profile in the place of the home's own."""
        others = dict(self.others)
        if self.profile.registration:
            others[normal_form(self.profile.registration)] = self.profile
        return replace(self, profile=self.profile_of(registration), others=others)

    @property
    def zone(self) -> ZoneInfo:
        """Give the zone in which a time without an offset is read."""
        return self.profile.zone

    @property
    def vault_dir(self) -> Path:
        """Give the folder of the kept originals."""
        return self.home / "vault"


def load(home: Path | None, env: Mapping[str, str], aircraft: str = "") -> Settings:
    """Read the settings; creates nothing. `aircraft` is another than that of `aircraft.toml`.

    Raises:
        InputError: a profile cannot be read, or holds a wrong key or value.
    """
    where = home or (Path(env[HOME_VARIABLE]) if env.get(HOME_VARIABLE) else _user_folder())
    where = where.expanduser()
    profile_file = where / PROFILE_NAME
    try:
        has_profile = profile_file.is_file()
    except OSError as error:
        raise InputError("cannot be read as text", profile_file, str(error)) from None
    profile = (
        read_own(profile_file, local_zone(env)) if has_profile else Profile(zone=local_zone(env))
    )
    others = {}
    for path in sorted((where / FLEET).glob("*.toml")):
        other = read_own(path, profile.zone)
        if not other.registration:
            raise InputError("names no aircraft", path, 'add registration = "…" to it')
        others[normal_form(other.registration)] = other
    made = Settings(
        where, profile, has_profile, models_dir(env), env.get(DATABASE_VARIABLE) or where, others
    )
    return made.of(aircraft) if aircraft else made


def read_own(path: Path, zone: ZoneInfo) -> Profile:
    """Read a profile's file; `zone` serves where it names none. Raises `InputError`."""
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("cannot be read as text", path, str(error)) from None
    return read_profile(text, path, zone)


def _user_folder() -> Path:
    import platformdirs

    return Path(platformdirs.user_data_dir("cowlnote", appauthor=False))


def models_dir(env: Mapping[str, str]) -> Path:
    """Give the models' folder: `COWLNOTE_MODELS`, a checkout's own, or the user's data."""
    if env.get(MODELS_VARIABLE):
        return Path(env[MODELS_VARIABLE]).expanduser()
    checkout = Path(__file__).resolve().parent.parent
    if (checkout / "pyproject.toml").is_file():
        return checkout / "models"
    return _user_folder() / "models"
