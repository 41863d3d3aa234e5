find_package(GTest REQUIRED)

# A gtest program run by ctest: fairlead_test(NAME SOURCES a.cpp LIBS fairlead_x [LABELS fault]
# [TIMEOUT s]). A label names the part of tests/run.sh that runs it: fault, opinion, fuzz,
# plugins, browser, pdf or bench; without one it belongs to part unit.
function(fairlead_test name)
  cmake_parse_arguments(T "" "TIMEOUT" "SOURCES;LIBS;LABELS" ${ARGN})
  add_executable(${name} ${T_SOURCES})
  target_link_libraries(${name} PRIVATE fairlead_options ${T_LIBS} GTest::gtest GTest::gmock
                                        GTest::gtest_main)
  add_test(NAME ${name} COMMAND ${name} WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  if(NOT T_TIMEOUT)
    set(T_TIMEOUT 120)
  endif()
  set_tests_properties(${name} PROPERTIES TIMEOUT ${T_TIMEOUT} LABELS "${T_LABELS}")
  cmake_language(EVAL CODE "cmake_language(DEFER CALL fairlead_mark_core [[${name}]])")
endfunction()

# What the thread sanitizer may run: Debian's gRPC is not instrumented and reports races that are
# none, so a test counts as core only where nothing it links, at any depth, is gRPC.
add_custom_target(core_tests)

function(fairlead_mark_core name)
  fairlead_links_grpc(${name} found)
  if(NOT found)
    add_dependencies(core_tests ${name})
    set_property(TEST ${name} APPEND PROPERTY LABELS core)
  endif()
endfunction()

function(fairlead_links_grpc target result)
  set(todo ${target})
  set(seen "")
  set(${result} FALSE PARENT_SCOPE)
  while(todo)
    list(POP_FRONT todo next)
    if(next MATCHES "gRPC::|proto_grpc|grpc\\+\\+")
      set(${result} TRUE PARENT_SCOPE)
      return()
    endif()
    if(next IN_LIST seen OR NOT TARGET ${next})
      continue()
    endif()
    list(APPEND seen ${next})
    foreach(property LINK_LIBRARIES INTERFACE_LINK_LIBRARIES)
      get_target_property(libs ${next} ${property})
      if(libs)
        string(REGEX REPLACE "\\$<LINK_ONLY:([^>]*)>" "\\1" libs "${libs}")
        list(APPEND todo ${libs})
      endif()
    endforeach()
  endwhile()
endfunction()

# A fuzz target: fairlead_fuzz(NAME SOURCES a.cpp LIBS fairlead_x), see tests/fuzz/target.h. Every
# preset links a small driver that replays the seeds and a fixed series of mutations, and ctest runs
# that (part fuzz); preset fuzz makes NAME the libFuzzer program and NAME_replay the driver.
option(FAIRLEAD_FUZZ "Link the fuzz targets with libFuzzer" OFF)
add_custom_target(fuzzers)

function(fairlead_fuzz name)
  cmake_parse_arguments(F "" "" "SOURCES;LIBS" ${ARGN})
  set(replay ${name})
  if(FAIRLEAD_FUZZ)
    set(replay ${name}_replay)
    add_executable(${name} ${F_SOURCES})
    target_link_libraries(${name} PRIVATE fairlead_options ${F_LIBS})
    target_link_options(${name} PRIVATE -fsanitize=fuzzer)
    add_dependencies(fuzzers ${name} ${replay})
  endif()
  add_executable(${replay} ${F_SOURCES} ${CMAKE_SOURCE_DIR}/tests/fuzz/replay.cpp)
  target_link_libraries(${replay} PRIVATE fairlead_options ${F_LIBS})
  add_test(NAME ${name} COMMAND ${replay})
  set_tests_properties(${name} PROPERTIES TIMEOUT 60 LABELS fuzz)
endfunction()
