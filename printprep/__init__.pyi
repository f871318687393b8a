from printprep.adjust._base import Adjustment as Adjustment
from printprep.adjust._base import Stage as Stage
from printprep.adjust._base import Steps as Steps
from printprep.adjust.gamut_fit import GamutFit as GamutFit
from printprep.adjust.highlight_hold import HighlightHold as HighlightHold
from printprep.adjust.room_brightness import RoomBrightness as RoomBrightness
from printprep.adjust.room_colour import RoomColour as RoomColour
from printprep.adjust.shadow_lift import ShadowLift as ShadowLift
from printprep.compose import Pipeline as Pipeline
from printprep.compose import paper as paper
from printprep.compose import pipeline as pipeline
from printprep.compose import room as room
from printprep.conditions.conditions import Conditions as Conditions
from printprep.conditions.paper import Paper as Paper
from printprep.conditions.room import Room as Room
from printprep.conditions.sheet import Sheet as Sheet
from printprep.errors import InputError as InputError
from printprep.errors import OutputError as OutputError
from printprep.errors import OutsideError as OutsideError
from printprep.errors import ParameterError as ParameterError
from printprep.errors import PresetError as PresetError
from printprep.errors import PrintprepError as PrintprepError
from printprep.errors import UnknownName as UnknownName
from printprep.photo import Photo as Photo
from printprep.photo import Profile as Profile
from printprep.photo import read as read
from printprep.record.batch import prepare_many as prepare_many
from printprep.record.job import Prepared as Prepared
from printprep.record.job import prepare as prepare
from printprep.record.ticket import Ticket as Ticket
from printprep.record.ticket import read_ticket as read_ticket

__version__: str
__all__: list[str]
