"""Where things lie: file, environment and options, read once into one frozen value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from capture.errors import InputError
from desk.profile import PROFILE_NAME, local_zone, read_profile
from desk.profile import Profile as Profile

DATABASE_VARIABLE = "COWLNOTE_DATABASE"
HOME_VARIABLE = "COWLNOTE_HOME"
MODELS_VARIABLE = "COWLNOTE_MODELS"


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything a command needs to know before it starts.

    `home` holds the profile, the database and the vault, and may not exist yet; `database` is the
    home, or the address of a shared server.
    """

    home: Path
    profile: Profile
    has_profile: bool
    models_dir: Path
    database: str | Path

    @property
    def zone(self) -> ZoneInfo:
        """Give the zone in which a time without an offset is read."""
        return self.profile.zone

    @property
    def vault_dir(self) -> Path:
        """Give the folder of the kept originals."""
        return self.home / "vault"


def load(home: Path | None, env: Mapping[str, str]) -> Settings:
    """Read the settings; creates nothing.

    Raises:
        InputError: the profile cannot be read, or holds a wrong key or value.
    """
    where = home or (Path(env[HOME_VARIABLE]) if env.get(HOME_VARIABLE) else _user_folder())
    where = where.expanduser()
    profile_file = where / PROFILE_NAME
    try:
        has_profile = profile_file.is_file()
        text = profile_file.read_text("utf-8") if has_profile else ""
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("cannot be read as text", profile_file, str(error)) from None
    profile = (
        read_profile(text, profile_file, local_zone(env))
        if has_profile
        else Profile(zone=local_zone(env))
    )
    return Settings(
        where, profile, has_profile, models_dir(env), env.get(DATABASE_VARIABLE) or where
    )


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
